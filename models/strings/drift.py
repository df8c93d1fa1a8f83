"""What time alone does to a string's tension: a new string creeps, and string and body warm up or cool down."""

from dataclasses import dataclass

from models.strings.climate import Climate
from models.strings.creep import Creep
from models.strings.tension import Strung


@dataclass(frozen=True, slots=True)
class Drift:
    """Creep and climate of one string, from the start of the run."""

    string: Strung
    creep: Creep
    climate: Climate

    def newton(self, seconds: float) -> float:
        """Return the change of tension since the start; below 0 = lower."""
        return self.string.ea_n * (self.climate.strain(seconds) - self.creep.strain(seconds))


def drift(string: Strung, creep: Creep, climate: Climate) -> Drift | None:
    """Return what time does to a string, None when it does nothing."""
    return None if creep.is_over() and climate.is_steady() else Drift(string, creep, climate)
