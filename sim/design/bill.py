"""What a rig costs, as far as anybody said: a part without a price is not free."""

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from scenarios.prices import BOUGHT
from scenarios.schema import Scenario

SIGNAL: Final = frozenset({"microphone", "front_end"})
STATISTICAL: Final = frozenset({"ear"})
DRIVE: Final = frozenset({"motor", "coupler"})
Verdict = Literal["no limit", "fits", "does not fit", "not known"]


class Line(NamedTuple):
    """One section that is bought."""

    section: str
    eur: float | None
    """None where nobody said."""
    source: str


@dataclass(frozen=True, slots=True)
class Bill:
    """Everything that a rig is made of: motor and coupler for every peg that has a drive of its own, the rest once."""

    lines: tuple[Line, ...]
    limit_eur: float
    """Of ``[require]``; 0 = no limit."""

    def known_eur(self) -> float:
        """Return what all priced sections cost together: at least so much is to be paid."""
        return sum(line.eur for line in self.lines if line.eur is not None)

    def unpriced(self) -> tuple[str, ...]:
        """Return the sections that nobody priced."""
        return tuple(line.section for line in self.lines if line.eur is None)

    def verdict(self) -> Verdict:
        """Return whether the rig keeps its limit; not known where that hangs on parts without a price."""
        if self.limit_eur == 0.0:
            return "no limit"
        if self.known_eur() > self.limit_eur:
            return "does not fit"
        return "not known" if self.unpriced() else "fits"


def bill(scenario: Scenario) -> Bill:
    """Return the bill of a rig: microphone and front end where it names them, else an ear as a whole."""
    other = STATISTICAL if scenario.hearing else SIGNAL
    lines = tuple(_line(scenario, section) for section in BOUGHT if section not in other)
    return Bill(lines, 0.0 if scenario.require is None else scenario.require.budget_eur)


def _line(scenario: Scenario, section: str) -> Line:
    price = scenario.prices.get(section)
    if price is None:
        return Line(section, None, "no price")
    drives = 1 if scenario.session.nominal().carried or section not in DRIVE else len(scenario.strings)
    return Line(section, drives * price.eur, price.source if drives == 1 else f"{drives} times: {price.source}")
