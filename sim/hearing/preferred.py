"""Preferred values of resistors and capacitors: the series of IEC 60063, from memory, as published."""

import math
from typing import Final

E24: Final = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip
E12: Final = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
SLACK: Final = 1e-9  # a value this close below a preferred one is that one


def around(value: float, series: tuple[float, ...]) -> list[float]:
    """Return the preferred values of the decade of ``value`` (above 0) and of its neighbours, rising."""
    decade = math.floor(math.log10(value))
    return [step * 10.0**power for power in (decade - 1, decade, decade + 1) for step in series]


def nearest(value: float, series: tuple[float, ...]) -> float:
    """Return the preferred value whose ratio to ``value`` (above 0) is nearest to 1."""
    return min(around(value, series), key=lambda candidate: abs(math.log(candidate / value)))


def at_least(value: float, series: tuple[float, ...]) -> float:
    """Return the smallest preferred value that is not below ``value`` (above 0)."""
    return next(candidate for candidate in around(value, series) if candidate >= value * (1.0 - SLACK))
