"""What time alone does to a string's tension: a new string creeps, and string and body warm up or cool down."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from models.strings.tension import Strung

if TYPE_CHECKING:
    from models.strings.climate import Climate
    from models.strings.creep import Creep


@dataclass(frozen=True, slots=True)
class Drift:
    """Creep and climate of one string, from the start of the run."""

    string: Strung
    newton_per_cent: float
    """At the target pitch."""
    creep: "Creep"
    climate: "Climate"

    def newton(self, seconds: float) -> float:
        """Return the change of tension since the start; below 0 = lower."""
        return self.newton_per_cent * self.creep.cents(seconds) + self.string.ea_n * self.climate.strain(seconds)
