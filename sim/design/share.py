"""A share of an error budget."""

import math
from typing import Final, NamedTuple

P95: Final = 1.96  # standard deviations to either side that hold 95 % of a normal distribution


class Share(NamedTuple):
    """What one cause adds to the error of a finished tuning."""

    name: str
    one_sided_cents: float
    """How far it moves every tuning the same way, positive = sharp."""
    spread_cents: float
    """Its standard deviation."""

    def alone_cents(self) -> float:
        """Return the error that 95 % of tunings would stay within if this were the only share."""
        return abs(self.one_sided_cents) + P95 * self.spread_cents


def even(width_cents: float) -> float:
    """Return the standard deviation of what lies anywhere within a width: ``width / sqrt(12)``."""
    return width_cents / math.sqrt(12.0)
