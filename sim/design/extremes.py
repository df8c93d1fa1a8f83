"""The worst corner of what is not known: each range at the end that makes a number smaller."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from sim.specimen import Draw


class Extreme(NamedTuple):
    """A number in the middle of all ranges and in its worst corner."""

    middle: float
    worst: float
    at: Mapping[str, float]
    """Where the worst corner lies: 0 or 1 by the dotted key of a range; other ranges do not matter."""


def worst(measure: Callable[[Draw], Sequence[float]]) -> list[Extreme]:
    """Return the worst corner of each number that ``measure`` makes of a draw.

    Each range is tried alone at its upper end; numbers are taken to go one way over a range.
    """
    asked = dict[str, None]()

    def asking(key: str) -> float:
        asked[key] = None
        return 0.5

    middle = measure(asking)
    upper = {key: measure(at({key: 1.0})) for key in asked}
    corners = [_corner(place, number, upper) for place, number in enumerate(middle)]
    return [
        Extreme(number, min(number, measure(at(corner))[place]) if corner else number, corner)
        for place, (number, corner) in enumerate(zip(middle, corners, strict=True))
    ]


def at(corner: Mapping[str, float]) -> Draw:
    """Return the draw of a corner: the middle of every range that it does not name."""
    return lambda key: corner.get(key, 0.5)


def _corner(place: int, middle: float, upper: Mapping[str, Sequence[float]]) -> dict[str, float]:
    return {key: float(found[place] < middle) for key, found in upper.items() if found[place] != middle}
