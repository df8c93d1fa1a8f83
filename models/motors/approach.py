"""A speed that goes from one value towards another: how long until it has fallen so low, or turned so far."""

import math
from typing import Final, NamedTuple

from models.motors.base import travel_s

TURNS: Final = 60  # Newton steps at most; four or five are usual
NEARLY: Final = 1e-9  # share of the time by which the last step moves it; its own error is the square of that


class Approach(NamedTuple):
    """``speed(t) = final + (start - final) exp(-rate t)``, seen in the sense of turning: ``start`` is 0 or more."""

    start_deg_s: float
    final_deg_s: float
    """Below 0 for a shaft that comes to rest."""
    rate_per_s: float

    def speed_deg_s(self, seconds: float) -> float:
        """Return the speed at an instant."""
        return self.final_deg_s + (self.start_deg_s - self.final_deg_s) * math.exp(-self.rate_per_s * seconds)

    def turned_deg(self, seconds: float) -> float:
        """Return the angle turned since the start."""
        excess_deg_s = self.start_deg_s - self.final_deg_s
        return self.final_deg_s * seconds + excess_deg_s * travel_s(self.rate_per_s, seconds)

    def mean_deg(self, seconds: float) -> float:
        """Return the mean over time of the angle turned so far."""
        excess_deg_s = self.start_deg_s - self.final_deg_s
        lag_s = (seconds - travel_s(self.rate_per_s, seconds)) / self.rate_per_s / seconds
        return self.final_deg_s * seconds / 2.0 + excess_deg_s * lag_s

    def seconds_to_fall(self, to_deg_s: float) -> float:
        """Return the time until the speed has fallen to ``to_deg_s`` (0 or more): 0 if lower, inf if it never does."""
        if self.final_deg_s >= to_deg_s:
            return math.inf
        fall = max(0.0, self.start_deg_s - to_deg_s)
        return math.log1p(fall / (to_deg_s - self.final_deg_s)) / self.rate_per_s

    def seconds_to_turn(self, way_deg: float) -> float:
        """Return the time to turn ``way_deg`` (above 0), infinite if the shaft comes to rest before."""
        return math.inf if math.isinf(way_deg) or self._most_deg() <= way_deg else self._reaching_s(way_deg)

    def seconds_within(self, way_deg: float, most_s: float) -> float:
        """Return the time to turn ``way_deg`` (above 0), at most ``most_s``: infinite, or before the shaft rests."""
        if math.isinf(most_s):
            return self.seconds_to_turn(way_deg)
        return most_s if self.turned_deg(most_s) <= way_deg else min(most_s, self._reaching_s(way_deg))

    def _reaching_s(self, way_deg: float) -> float:
        """Return the time to turn a way that the shaft comes to turn.

        Newton's method from the side where it cannot overshoot: from late while the speed grows, from 0 while it falls.
        """
        seconds = self._bound_s(way_deg)
        for _ in range(TURNS):
            step = (way_deg - self.turned_deg(seconds)) / self.speed_deg_s(seconds)
            seconds += step
            if abs(step) <= NEARLY * seconds:
                break
        return seconds

    def _most_deg(self) -> float:
        """Return how far the shaft turns before it comes to rest."""
        if self.final_deg_s > 0.0:
            return math.inf
        if self.final_deg_s == 0.0:
            return self.start_deg_s / self.rate_per_s
        return self.turned_deg(self.seconds_to_fall(0.0))

    def _bound_s(self, way_deg: float) -> float:
        """Return a time from which Newton's steps go one way: not before the end while the speed grows, else 0."""
        gain_deg_s = self.final_deg_s - self.start_deg_s
        return way_deg / self.final_deg_s + gain_deg_s / (self.final_deg_s * self.rate_per_s) if gain_deg_s > 0 else 0.0
