"""The smallest change of one value that makes a row fit."""

import math
from collections.abc import Callable, Iterator
from typing import Final

from pydantic import ValidationError

from models.units import unit_of
from scenarios.schema import Scenario
from sim.design.levers import LEVERS, Lever, changed, value
from sim.design.rows import Change

STRIDE: Final = 1.5  # factor from one try to the next
STRIDES: Final = 15  # tries up or down: a factor of 440
HALVINGS: Final = 9  # that narrow a stride down to a thousandth
DIGITS: Final = 3  # of a value that is proposed

Fits = Callable[[Scenario], bool]
Spoils = Callable[[Scenario], tuple[str, ...]]


def repairs(scenario: Scenario, string: str, check: str, fits: Fits, spoils: Spoils) -> tuple[Change, ...]:
    """Return a change for each lever that can make the row fit, the smallest first."""
    found = (_repair(scenario, string, lever, fits, spoils) for lever in LEVERS[check])
    return tuple(sorted((change for change in found if change is not None), key=_size))


def _size(change: Change) -> float:
    return abs(math.log(change.times))


def _repair(scenario: Scenario, string: str, lever: Lever, fits: Fits, spoils: Spoils) -> Change | None:
    now = value(scenario, string, lever)
    if not now or now < 0.0:
        return None

    def works(to: float) -> bool:
        try:
            return fits(changed(scenario, string, lever, to))
        except ValidationError:  # beyond what the part may be
            return False

    to = _doubled(now, lever.sense, works) if lever.whole() else _least(now, lever.sense, works)
    if to is None:
        return None
    spoilt = spoils(changed(scenario, string, lever, to))
    return Change(f"{lever.section}.{lever.key}", to, unit_of(lever.key), to / now, spoilt)


def _doubled(now: float, sense: int, works: Callable[[float], bool]) -> int | None:
    """Return the first power of two times (or part of) a whole number that works."""
    tries = (round(now * 2.0 ** (sense * step)) for step in range(1, STRIDES))
    return next((to for to in tries if works(to)), None)


def _least(now: float, sense: int, works: Callable[[float], bool]) -> float | None:
    """Return the value nearest to ``now`` that works, rounded away from it."""
    far = next((exponent for exponent in range(1, STRIDES + 1) if works(now * STRIDE ** (sense * exponent))), None)
    if far is None:
        return None
    near_exponent, far_exponent = far - 1.0, float(far)
    for _ in range(HALVINGS):
        middle = (near_exponent + far_exponent) / 2.0
        if works(now * STRIDE ** (sense * middle)):
            far_exponent = middle
        else:
            near_exponent = middle
    return next((to for to in _rounded(now * STRIDE ** (sense * far_exponent), sense) if works(to)), None)


def _rounded(exact: float, sense: int) -> Iterator[float]:
    """Give a number rounded to a few digits away from where it came from, then as it is."""
    digit = 10.0 ** (math.floor(math.log10(exact)) - DIGITS + 1)
    yield float(f"{(math.ceil if sense > 0 else math.floor)(exact / digit) * digit:.{DIGITS}g}")
    yield exact
