"""The player: who plucks, and who takes the coupler off and on."""

import math
from typing import Annotated

from pydantic import Field

from models.component import Positive, component


@component
class Player:
    """A person or a mechanism that plucks when asked.

    Law: times are log-normal about a median, ``t = median * exp(spread * z)`` with standard normal ``z``; levels are
    normal about 0 dB.

    Fails when: the player tires, plucks the wrong string, or does not come back.

    Source: human reaction and pluck times are estimates; see its part.
    """

    pluck_s: Positive
    """Median time from being asked to the pluck (or between plucks, when plucking in rhythm)."""

    pluck_spread: Annotated[float, Field(ge=0, le=2)]
    """Spread of that time and of re-gripping: 0.3 means that two of three lie within a factor 1.35."""

    level_spread_db: Annotated[float, Field(ge=0, le=30)]
    """Standard deviation of the level of plucks."""

    regrip_s: Positive
    """Median time to take the coupler off, wait for the motor to go back, and grip again."""

    def pluck_time_s(self, normal: float) -> float:
        """Return the time of one pluck for a standard normal draw."""
        return self.pluck_s * math.exp(self.pluck_spread * normal)

    def regrip_time_s(self, normal: float) -> float:
        """Return the time of one re-grip for a standard normal draw."""
        return self.regrip_s * math.exp(self.pluck_spread * normal)
