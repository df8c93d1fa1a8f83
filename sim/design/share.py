"""A share of an error budget."""

import math
from typing import NamedTuple


class Share(NamedTuple):
    """What one cause adds to the error of a finished tuning."""

    name: str
    one_sided_cents: float
    """How far it moves every tuning the same way, positive = sharp."""
    spread_cents: float
    """Its standard deviation."""


def even(width_cents: float) -> float:
    """Return the standard deviation of what lies anywhere within a width: ``width / sqrt(12)``."""
    return width_cents / math.sqrt(12.0)
