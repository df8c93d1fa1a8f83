"""The settings that meet what is required: which to take, and how far it may be off."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.series.measures import Floats, Tried, compared, limit
from sim.series.statistics import resampled_ratio
from sim.series.sweep_axis import Axis, Number
from sim.series.sweep_judge import MISSED, SURE, shortfalls, stopping, verdict

NEAR_PLUCKS = 1.0  # fewer nobody would notice (estimate)
RULE = (
    "fewest plucks in the widest unbroken region that meets what is required; less than one pluck apart counts as "
    "equal, and of equals the one nearest to the middle of the region is taken"
)


@dataclass(frozen=True, slots=True)
class Judged:
    """One setting of one strategy, on all strings or on one."""

    values: tuple[Number, ...]
    verdict: str
    """``meets``, ``likely`` or ``fails``."""
    missed: dict[str, float]
    """By requirement; see ``sweep_judge.shortfalls``."""
    plucks: Floats
    """Of each specimen: the mean over its runs, a run that did not finish counted with the limit."""


def judged(values: tuple[Number, ...], one: Tried) -> Judged:
    """Return the judgement of a setting."""
    missed = shortfalls(one)
    return Judged(values, verdict(one, missed), missed, mean_of(one, "plucks"))


def mean_of(one: Tried, measure: str) -> Floats:
    """Return the mean of a measure over the runs of each specimen; unfinished ones count with the limit."""
    values = compared(one.all_runs(), measure)
    return np.asarray(np.where(np.isinf(values), limit(one.facts, measure), values).mean(axis=1))


def answer(axes: Sequence[Axis], settings: Sequence[Judged]) -> dict[str, Any]:
    """Return the setting to take and how far it may be off; the nearest, and what stops it, where none meets."""
    region = widest_region(axes, settings)
    good = [one for one in region if one.verdict == SURE] or region
    if not good:
        nearest = min(settings, key=lambda one: (sum(one.missed.values()), float(one.plucks.mean())))
        return {"recommended": None, "nearest": list(nearest.values), "stopped_by": stopping(nearest.missed)}
    taken = recommended(axes, good, settings)
    return {
        "recommended": list(taken.values),
        "verdict": taken.verdict,
        "plucks": float(taken.plucks.mean()),
        "off": [_off(axes, place, taken, settings) for place in range(len(axes))],
    }


def widest_region(axes: Sequence[Axis], settings: Sequence[Judged]) -> list[Judged]:
    """Return the most settings that hang together and meet, as far as counted; a lone lucky one is no region."""
    left = {_cell(axes, one): one for one in settings if one.verdict != MISSED}
    regions = []
    while left:
        regions.append(_taken_out(left, next(iter(left))))
    return max(regions, key=len, default=[])


def _cell(axes: Sequence[Axis], one: Judged) -> tuple[int, ...]:
    return tuple(axis.values.index(value) for axis, value in zip(axes, one.values, strict=True))


def _taken_out(left: dict[tuple[int, ...], Judged], start: tuple[int, ...]) -> list[Judged]:
    """Take the settings that hang together with one out of ``left`` and return them."""
    found, edge = [left.pop(start)], [start]
    while edge:
        cell = edge.pop()
        for near in (_stepped(cell, place, by) for place in range(len(cell)) for by in (-1, 1)):
            if near in left:
                found.append(left.pop(near))
                edge.append(near)
    return found


def _stepped(cell: tuple[int, ...], place: int, by: int) -> tuple[int, ...]:
    return (*cell[:place], cell[place] + by, *cell[place + 1 :])


def recommended(axes: Sequence[Axis], good: Sequence[Judged], settings: Sequence[Judged]) -> Judged:
    """Return the setting that ``RULE`` chooses among ``good`` ones."""
    fewest = min(good, key=lambda one: float(one.plucks.mean()))
    equals = [one for one in good if not _clearly_more(one, fewest)]
    ends = [_region(axes, place, fewest, settings) for place in range(len(axes))]
    middle = [(axis.place(low) + axis.place(high)) / 2.0 for axis, (low, high) in zip(axes, ends, strict=True)]
    spans = [axis.place(axis.values[-1]) - axis.place(axis.values[0]) for axis in axes]

    def distance(one: Judged) -> float:
        places = (axis.place(value) for axis, value in zip(axes, one.values, strict=True))
        return sum(abs(place - mid) / span for place, mid, span in zip(places, middle, spans, strict=True))

    return min(equals, key=distance)


def _clearly_more(one: Judged, fewest: Judged) -> bool:
    """Return whether a setting takes more plucks by a pluck, for sure."""
    more = one.plucks - fewest.plucks
    interval = resampled_ratio(more, np.ones(len(more)))
    return float(more.mean()) > NEAR_PLUCKS and (interval.low is None or interval.low > 0.0)


def _region(axes: Sequence[Axis], place: int, at: Judged, settings: Sequence[Judged]) -> tuple[Number, Number]:
    """Return the ends of the unbroken stretch of one key in which no requirement fails, the others held."""
    line = _line(place, at, settings)
    here = axes[place].values.index(at.values[place])
    low = next((number for number in range(here, -1, -1) if line[number].verdict == MISSED), -1) + 1
    high = next((number for number in range(here, len(line)) if line[number].verdict == MISSED), len(line)) - 1
    return line[low].values[place], line[high].values[place]


def _line(place: int, at: Judged, settings: Sequence[Judged]) -> list[Judged]:
    """Return the settings that differ from one in a single key, in order of its values."""
    alike = [one for one in settings if _without(one.values, place) == _without(at.values, place)]
    return sorted(alike, key=lambda one: one.values[place])


def _without(values: tuple[Number, ...], place: int) -> tuple[Number, ...]:
    return values[:place] + values[place + 1 :]


def _off(axes: Sequence[Axis], place: int, taken: Judged, settings: Sequence[Judged]) -> dict[str, Any]:
    """Return how far one key may be off: the last values that meet, the first that fail, and what fails there."""
    line = _line(place, taken, settings)
    low, high = _region(axes, place, taken, settings)
    below = next((one for one in reversed(line) if one.values[place] < low), None)
    above = next((one for one in line if one.values[place] > high), None)
    return {
        "key": axes[place].key,
        "low": low,
        "high": high,
        **_edge("below", below, place),
        **_edge("above", above, place),
    }


def _edge(side: str, beyond: Judged | None, place: int) -> dict[str, Any]:
    """Return the first value that fails on one side and the requirement; None at the end of what was tried."""
    value = None if beyond is None else beyond.values[place]
    return {f"fails_{side}": value, f"stopped_{side}": None if beyond is None else stopping(beyond.missed)}
