"""Adding specimens until an interval is narrow enough, by a rule that keeps its coverage.

Whoever looks again and again and stops at a lucky moment has an interval that covers less often than it says. Here
looks are fixed beforehand, at most ``LOOKS`` of them, each with twice the specimens of the one before, and each
interval has the confidence ``1 - 0.05 / LOOKS``. All of them together then hold in at least 95 of 100 series, and so
does the one at which the series stops, whatever made it stop.

Source: Bonferroni's inequality; independent arithmetic and simulation in the tests.
"""

from collections.abc import Callable
from typing import Final, TypeVar

from sim.series.statistics import CONFIDENCE

Found = TypeVar("Found")

LOOKS: Final = 6
AT_EACH: Final = 1.0 - (1.0 - CONFIDENCE) / LOOKS
"""Confidence of the interval at each look: 0.9917."""
RULE: Final = (
    f"at most {LOOKS} looks, each with twice the machines; intervals of {100 * AT_EACH:.1f} % at each keep 95 % in all"
)


def looks(first: int) -> list[int]:
    """Return the specimens at each look."""
    return [first << place for place in range(LOOKS)]


def until(
    width: float, first: int, look: Callable[[int, Found | None], Found], widest: Callable[[Found], float]
) -> tuple[Found, bool]:
    """Return what the last look found, and whether its widest interval is at most ``width``.

    ``look`` gets the specimens wanted and what the look before found, None at the first.
    """
    found, narrow = look(first, None), False
    for specimens in looks(first)[1:]:
        if narrow := widest(found) <= width:
            break
        found = look(specimens, found)
    return found, narrow or widest(found) <= width
