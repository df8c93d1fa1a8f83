"""Whether two ears are one truth: intervals of their differences inside stated margins, cell by cell and in the loop.

Both ears meet the same specimens; intervals resample specimens. *Same* is only what lies wholly inside the margin,
*different* what lies wholly outside; all else is *unclear* and takes more specimens.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final, Literal, NamedTuple

import numpy as np

from scenarios.schema import Part, Scenario
from sim.hearing.fit import levels_db
from sim.hearing.listened import GROSS_CENTS, Floats, Sizes, listened
from sim.seeds import Streams
from sim.series.compare import compare
from sim.series.grid import Rows
from sim.series.statistics import resampled, zero_bound

Verdict = Literal["same", "different", "unclear"]
Margin = tuple[float, float]

BIAS_CENTS: Final = 0.5
BIAS_SHARE: Final = 0.2  # of the spread, where that is more
SPREAD_RATIO: Final[Margin] = (0.8, 1.25)
CORRELATION: Final[Margin] = (-0.2, 0.2)
FAILED: Final[Margin] = (-0.02, 0.02)
IN_TUNE: Final[Margin] = (-0.05, 0.05)
PLUCKS_RATIO: Final[Margin] = (0.8, 1.25)
TUNINGS: Final = 4  # of the statistical ear for each of the signal ear: cheap, and halves its part of the interval


class Difference(NamedTuple):
    """One measure of the statistical ear against the signal ear, with its 95 % interval and margin."""

    measure: str
    found: float
    low: float
    high: float
    margin: Margin

    def verdict(self) -> Verdict:
        """Return what the interval says."""
        if self.margin[0] <= self.low and self.high <= self.margin[1]:
            return "same"
        return "different" if self.high < self.margin[0] or self.margin[1] < self.low else "unclear"


class Cell(NamedTuple):
    """One string at one level of plucking."""

    string: str
    level_db: float
    """Of the plucks, re the usual one."""
    readings: int
    """Of the signal ear."""
    differences: tuple[Difference, ...]

    def verdict(self) -> Verdict:
        """Return the worst verdict of all measures."""
        return worst([each.verdict() for each in self.differences])


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """Return *different* if any is, else *unclear* if any is, else *same*."""
    order: tuple[Verdict, ...] = ("different", "unclear")
    return next((one for one in order if one in verdicts), "same")


def with_ears(scenario: Scenario, ears: Mapping[str, Part]) -> Scenario:
    """Return a rig that hears with statistical ears, by string."""
    return replace(scenario, ears=dict(ears), ear="statistical")


def cells(
    scenario: Scenario, ears: Mapping[str, Part], string: str, streams: Streams, sizes: Sizes, levels: int
) -> list[Cell]:
    """Return how a rig's own ear and the statistical one of a string agree, level by level."""
    ear = ears[string].nominal()
    at_db = levels_db(ear.fresh_snr_db, ear.floor_snr_db, levels)
    measured = with_ears(scenario, ears)
    own = listened(scenario, string, streams, sizes, at_db).error_cents
    other = [listened(measured, string, streams, sizes, at_db, tuning).error_cents for tuning in range(TUNINGS)]
    return [
        Cell(string, float(at_db[level]), sizes.readings(), differences(own[level], [each[level] for each in other]))
        for level in range(levels)
    ]


def differences(own: Floats, others: Sequence[Floats]) -> tuple[Difference, ...]:
    """Return the second ear, tuning by tuning, against the first on the same specimens.

    Errors have the shape (specimens, plucks, windows).
    """
    first = sums(own)
    second = np.sum([sums(other) for other in others], axis=0)
    spread = float(_spread(first.sum(axis=0)[None])[0])
    bias_margin = max(BIAS_CENTS, BIAS_SHARE * spread)
    return (
        _difference("bias", _less(_bias, first, second), len(first), (-bias_margin, bias_margin)),
        _difference("spread", _over(_spread, first, second), len(first), SPREAD_RATIO),
        _difference("correlation", _less(_correlation, first, second), len(first), CORRELATION),
        _difference("failed", _less(_failed, first, second), len(first), FAILED, zero_bound(len(first))),
    )


TRIED, SOUND, TOTAL, SQUARES, PLUCK_SQUARES, PLUCK_PAIRS, SPECIMEN_SQUARES, SPECIMEN_PAIRS = range(8)


def sums(error: Floats) -> Floats:
    """Return what the measures need of each specimen, shape (specimens, 8).

    Readings tried and sound, sum and square sum of the sound ones, and the squared differences with their number of
    pairs within plucks and between plucks.
    """
    sound = np.where(np.abs(error) <= GROSS_CENTS, error, np.nan)
    count = np.isfinite(sound).sum(axis=2)
    total, squares = np.nansum(sound, axis=2), np.nansum(sound**2, axis=2)
    in_pluck, pairs = (count * squares - total**2).sum(axis=1), (count * (count - 1) / 2).sum(axis=1)
    many, whole, power = count.sum(axis=1), total.sum(axis=1), squares.sum(axis=1)
    between, between_pairs = many * power - whole**2 - in_pluck, many * (many - 1) / 2 - pairs
    tried = np.full(len(error), float(error[0].size))
    return np.stack([tried, many, whole, power, in_pluck, pairs, between, between_pairs], axis=1)


def _bias(total: Floats) -> Floats:
    return total[:, TOTAL] / total[:, SOUND]


def _spread(total: Floats) -> Floats:
    return np.sqrt(np.maximum(total[:, SQUARES] / total[:, SOUND] - _bias(total) ** 2, 0.0))


def _correlation(total: Floats) -> Floats:
    """Return the correlation of two readings of one pluck beyond that of two plucks; 1 where plucks do not differ."""
    within = total[:, PLUCK_SQUARES] / total[:, PLUCK_PAIRS]
    between = total[:, SPECIMEN_SQUARES] / total[:, SPECIMEN_PAIRS]
    return np.where(between == 0.0, 1.0, 1.0 - within / between)


def _failed(total: Floats) -> Floats:
    """Return the share of readings that are gross or missed."""
    return 1.0 - total[:, SOUND] / total[:, TRIED]


Measure = Callable[[Floats], Floats]


def _less(measure: Measure, first: Floats, second: Floats) -> Measure:
    return lambda weights: measure(weights @ second) - measure(weights @ first)


def _over(measure: Measure, first: Floats, second: Floats) -> Measure:
    return lambda weights: measure(weights @ second) / measure(weights @ first)


def _difference(name: str, statistic: Measure, specimens: int, margin: Margin, bound: float = 0.0) -> Difference:
    """Return a measure with its interval; ``bound`` is its half width where all specimens are alike.

    What has no value (nothing heard, no spread) has an interval without ends, and is unclear.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        found = float(statistic(np.ones((1, specimens)))[0])
        interval = resampled(statistic, specimens)
    if interval.low is not None and interval.high is not None:
        return Difference(name, found, interval.low, interval.high, margin)
    if not math.isfinite(found) or "alike" not in interval.reason:
        return Difference(name, found, -math.inf, math.inf, margin)
    return Difference(name, found, found - bound, found + bound, margin)


def in_the_loop(
    scenario: Scenario, ears: Mapping[str, Part], strategy: str, specimens: int, seed: int
) -> tuple[Difference, ...]:
    """Return how tunings by a strategy differ with the statistical ear: share in tune, and mean plucks.

    Every string of every specimen is tuned once, with either ear.
    """
    measured = replace(with_ears(scenario, ears), name=f"{scenario.name} measured")
    rows = compare([scenario, measured], strategies=[strategy], specimens=specimens, tunings=1, seed=seed).rows
    return loop_differences(rows, specimens)


def loop_differences(rows: Rows, specimens: int) -> tuple[Difference, ...]:
    """Return share in tune and mean plucks of the second rig of a series against the first."""
    tuned, plucks = (_means(rows, name, specimens) for name in ("in_tune", "plucks"))
    return (
        _difference("in tune", _less(_only, *tuned), specimens, IN_TUNE, zero_bound(specimens)),
        _difference("plucks", _over(_only, *plucks), specimens, PLUCKS_RATIO),
    )


def _means(rows: Rows, name: str, specimens: int) -> tuple[Floats, Floats]:
    """Return the mean of a measure for each specimen, shape (specimens, 1), of the first and the second rig."""
    first, second = (
        np.array([rows[name][(rows["rig"] == rig) & (rows["specimen"] == one)].mean() for one in range(specimens)])
        for rig in (0, 1)
    )
    return first[:, None] / specimens, second[:, None] / specimens


def _only(total: Floats) -> Floats:
    found: Floats = total[:, 0]
    return found
