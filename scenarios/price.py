"""What something costs, and who says so."""

from typing import NamedTuple


class Price(NamedTuple):
    """What something costs."""

    eur: float
    """Euros, 0 or more."""
    source: str
    """Who says so, and when."""
