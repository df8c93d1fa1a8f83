"""The design sheet: can this machine work at all, and what would make it work."""

import math
from dataclasses import dataclass, replace
from typing import Final

from scenarios.schema import Scenario
from sim.design.charge import Life, life
from sim.design.checks import BATTERY, CHECKS
from sim.design.extremes import Extreme, at, worst
from sim.design.facts import Facts, describe, facts, middle
from sim.design.repair import repairs
from sim.design.rows import WHOLE, Row, Verdict, is_mild, margins, rows, verdict
from sim.design.strung import gives_m_n
from sim.specimen import Draw

SHARED: Final = ("motor", "supply", "unit", "player", "coupler")  # sections that all strings share


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that follows from a rig before any run."""

    facts: tuple[Facts, ...]
    """Of every string in the middle of all ranges."""
    rows: tuple[Row, ...]
    """Check by check, string by string; what concerns all strings comes last."""
    life: Life | None
    """Of the battery, None for a supply that does not tire."""

    def verdict(self) -> Verdict:
        """Return the worst verdict of all rows."""
        return max((row.verdict for row in self.rows), key=("fits", "tight", "does not fit").index)


def design(scenario: Scenario) -> Sheet:
    """Return the sheet of a rig."""
    found = describe(scenario)
    judged = [_mended(scenario, row, extreme) for each in found for row, extreme in rows(scenario, each)]
    in_order = sorted(judged, key=lambda row: tuple(CHECKS).index(row.check))
    lasting = life(scenario, middle)
    return Sheet(tuple(found), (*in_order, *_battery(scenario, lasting)), lasting)


def _mended(scenario: Scenario, row: Row, extreme: Extreme) -> Row:
    """Return a row with what would make it fit, if it does not."""
    if row.verdict != "does not fit":
        return row
    place, string = tuple(CHECKS).index(row.check), row.string
    failing, give = _unmet(scenario, string), gives_m_n(scenario, middle)[string]

    def fits(other: Scenario) -> bool:
        needs = CHECKS[row.check].needs(other, facts(other, string, middle, give))
        least = margins(other, string, at(extreme.at), give)[place]
        return needs.need < math.inf and verdict(needs.margin(), least) == "fits"

    def spoils(other: Scenario) -> tuple[str, ...]:
        return tuple(check for check in _unmet(other, string) if check not in failing)

    return replace(row, changes=repairs(scenario, string, row.check, fits, spoils))


def _unmet(scenario: Scenario, string: str) -> tuple[str, ...]:
    """Return the checks of a string that are not met in the middle of all ranges."""
    found = facts(scenario, string, middle)
    return tuple(
        name
        for name, check in CHECKS.items()
        if check.needs(scenario, found).margin() < 1.0 and not is_mild(name, found)
    )


def _battery(scenario: Scenario, lasting: Life | None) -> list[Row]:
    """Return the row of a battery that can start the motor: what one tuning of all strings takes of what it gives."""
    if lasting is None or not lasting.tuning_c < math.inf:
        return []
    extreme, judged = lasting_verdict(scenario)
    row = Row(WHOLE, BATTERY, lasting.tuning_c, lasting.usable_c, "C", extreme.middle, extreme.worst, judged)
    if judged != "does not fit":
        return [row]

    def fits(other: Scenario) -> bool:
        return verdict(_tunings(other, middle), _tunings(other, at(extreme.at))) == "fits"

    return [replace(row, changes=repairs(scenario, WHOLE, BATTERY, fits, lambda other: ()))]


def lasting_verdict(scenario: Scenario) -> tuple[Extreme, Verdict]:
    """Return the tunings of a charge and whether they are enough."""
    (extreme,) = worst(lambda draw: (_tunings(scenario, draw),))
    return extreme, verdict(extreme.middle, extreme.worst)


def _tunings(scenario: Scenario, draw: Draw) -> float:
    """Return the tunings of a charge, the strings in the middle of their ranges."""
    found = life(scenario, lambda key: draw(key) if key.partition(".")[0] in SHARED else 0.5)
    return 0.0 if found is None else found.tunings()
