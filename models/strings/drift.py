"""What time alone does to a string's tension: a new string creeps, and string and body warm up or cool down."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from models.strings.tension import SLACK_N, Strung
from models.units import shifted

if TYPE_CHECKING:
    from models.strings.climate import Climate
    from models.strings.creep import Creep


@dataclass(frozen=True, slots=True)
class Drift:
    """Creep and climate of one string, from the start of a run or of a session.

    The climate's strain adds ``EA`` times itself to the tension; creep's cents then act on the pitch of that tension,
    so that a string far from its target creeps by as many cents as one at it. The motor's load and breaking are taken
    without drift: they lag by what the string drifted since the start.
    """

    string: Strung
    creep: "Creep"
    climate: "Climate"
    begins_s: float = 0.0
    """When the run begins, from when creep and climate did."""

    def newton(self, tension_n: float, seconds: float) -> float:
        """Return the change of a tension since creep and climate began, ``seconds`` into the run; below 0 = lower.

        A slack string does not creep.
        """
        warmed_n = tension_n + self.string.ea_n * self.climate.strain(self.begins_s + seconds)
        return self._crept_n(warmed_n, self.creep.cents(self.begins_s + seconds)) - tension_n

    def _crept_n(self, tension_n: float, cents: float) -> float:
        if cents == 0.0 or tension_n < SLACK_N:
            return tension_n
        return self.string.tension_at_hz(shifted(self.string.first_partial_hz(tension_n), cents))


def drift(string: Strung, creep: "Creep", climate: "Climate") -> Drift | None:
    """Return what time does to a string, None where it does nothing."""
    return None if creep.is_over() and climate.is_steady() else Drift(string, creep, climate)
