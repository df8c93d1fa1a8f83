"""A stepper's rotor in its field: how far it lags under a load, and how far it follows."""

import math
from typing import Final, NamedTuple

from models.messages import Load

LEAST_NM: Final = 1e-12  # torque of a field without current, so that nothing is divided by 0
HALVINGS: Final = 60  # that narrow a way down to its rounding


class Rotor(NamedTuple):
    """A field that holds its rotor by ``torque = most sin(360 lag / cycle)``, all seen at the motor's shaft."""

    cycle_deg: float
    """Electrical cycle: the rotor fits the field again after so much."""
    most_nm: float
    """Holding torque, at a lag of a quarter cycle."""

    def lag_deg(self, torque_nm: float) -> float:
        """Return how far the rotor stays behind its field against a torque: at most a quarter cycle."""
        share = max(-1.0, min(1.0, torque_nm / max(self.most_nm, LEAST_NM)))
        return self.cycle_deg * math.asin(share) / math.tau

    def way_deg(self, field_deg: float, load: Load) -> float:
        """Return how far the rotor turns into a load for a field that stands ``field_deg`` ahead, 0 if not at all."""
        if load.torque_nm >= self.most_nm or field_deg <= self.lag_deg(load.torque_nm):
            return 0.0
        if load.slope_nm_per_deg == 0.0:
            return field_deg - self.lag_deg(load.torque_nm)
        low, high = 0.0, field_deg + self.cycle_deg / 4.0
        if load.slope_nm_per_deg > 0.0:
            high = max(0.0, min(high, (self.most_nm - load.torque_nm) / load.slope_nm_per_deg))
        for _ in range(HALVINGS):
            middle = (low + high) / 2.0
            behind = middle + self.lag_deg(load.torque_nm + load.slope_nm_per_deg * middle) < field_deg
            low, high = (middle, high) if behind else (low, middle)
        return high

    def folded_deg(self, field_deg: float) -> float:
        """Return how far ahead the nearest field is that the rotor fits, of one that stands ``field_deg`` ahead."""
        return math.remainder(field_deg, self.cycle_deg)
