"""How sure a number is: closed forms, and resampling of specimens, since runs of one specimen are alike."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Statistic = Callable[[Floats], Floats]
"""Weights of specimens, shape (resamples, specimens), to one value per resample."""

CONFIDENCE = 0.95
RESAMPLES = 2000
FLIPS = 9999
SEED = 20010701  # of resampling only; any number would do
BLOCK = 250_000  # weights held at once: 2 MB
JACKKNIFE_LIMIT = 500  # specimens above which the correction for skewness is below notice and is left out


@dataclass(frozen=True, slots=True)
class Interval:
    """A 95 % interval, or why there is none."""

    low: float | None
    high: float | None
    reason: str = ""
    """In words when there is no interval."""


def z_of(confidence: float) -> float:
    """Return the standard normal quantile of a two-sided interval: 1.96 for 0.95."""
    return NormalDist().inv_cdf(0.5 + confidence / 2)


def wilson(count: float, of: int, confidence: float = CONFIDENCE) -> Interval:
    """Return Wilson's score interval of a share; ``of >= 1``, ``0 <= count <= of``.

    Source: Wilson 1927; Brown, Cai & DasGupta 2001, Statistical Science 16, 101, equation 4.
    """
    share, weight = count / of, z_of(confidence) ** 2 / of
    centre = (share + weight / 2) / (1 + weight)
    half = math.sqrt(share * (1 - share) * weight + weight * weight / 4) / (1 + weight)
    return Interval(max(0.0, centre - half) if count else 0.0, min(1.0, centre + half) if count < of else 1.0)


def zero_bound(of: int, confidence: float = CONFIDENCE) -> float:
    """Return the largest share that is still plausible after 0 of ``of``: ``1 - 0.05^(1/of)``, exact, one-sided 95 %.

    About ``3 / of``. Source: solve ``(1 - p)^of = 0.05`` (rule of three: Hanley & Lippman-Hand 1983, JAMA 249, 1743).
    """
    return -math.expm1(math.log(1 - confidence) / of)


def clean_runs_for(share: float) -> int:
    """Return how many specimens without an event it takes to say that its share is at most ``share``, 0 to 1."""
    return math.ceil(math.log(1 - CONFIDENCE) / math.log1p(-share) - 1e-9)


def holm(p_values: Sequence[float]) -> list[float]:
    """Return p-values adjusted for having asked several questions, in the order given.

    ``p'_(i) = max over j <= i of min(1, (m - j + 1) p_(j))``. Source: Holm 1979, Scand. J. Statistics 6, 65.
    """
    order = sorted(range(len(p_values)), key=lambda place: p_values[place])
    adjusted, highest = [0.0] * len(p_values), 0.0
    for rank, place in enumerate(order):
        highest = max(highest, min(1.0, (len(p_values) - rank) * p_values[place]))
        adjusted[place] = highest
    return adjusted


def flip_test(differences: Floats) -> float:
    """Return the two-sided p-value of paired differences, one a specimen, were either sign equally likely.

    The share of 9999 random choices of signs, and the data themselves, whose mean is at least as far from 0. For
    differences of -1, 0 and 1 this is McNemar's exact test.

    Source: Fisher 1935, The Design of Experiments, section 21.
    """
    chance = np.random.Generator(np.random.Philox(SEED))
    size = max(1, min(FLIPS, BLOCK // len(differences)))
    found, reached = abs(float(differences.sum())) * (1 - 1e-12), 1
    for first in range(0, FLIPS, size):
        signs = 2 * chance.integers(0, 2, (min(size, FLIPS - first), len(differences)), dtype=np.int8) - 1
        reached += int(np.count_nonzero(np.abs(signs @ differences) >= found))
    return reached / (FLIPS + 1)


def resampled(statistic: Statistic, specimens: int, confidence: float = CONFIDENCE) -> Interval:
    """Return the bias-corrected and accelerated bootstrap interval of a statistic over specimens.

    No interval where resampling shows no spread: all specimens are alike then, and the data cannot say more. Resamples
    of ``n`` specimens spread less than specimens do: the levels are moved outwards, ``t_(n-1) sqrt(n / (n - 1))``.

    Sources: Efron 1987, J. Am. Stat. Assoc. 82, 171; Hesterberg 2015, The American Statistician 69, 371, section 5.2.
    """
    found = float(statistic(np.ones((1, specimens)))[0])
    values = np.concatenate([statistic(weights) for weights in _weights(specimens)])
    spread = values[np.isfinite(values)]
    if len(spread) < len(values) or not math.isfinite(found):
        return Interval(None, None, "not every resample has a value")
    if spread.min() == spread.max():
        return Interval(None, None, f"all {specimens} specimens are alike")
    below = (np.count_nonzero(spread < found) + np.count_nonzero(spread == found) / 2) / len(spread)
    shift = NormalDist().inv_cdf(min(max(below, 1e-9), 1 - 1e-9))
    levels = _corrected(shift, _acceleration(statistic, specimens), _outwards(confidence, specimens))
    low, high = np.quantile(spread, levels)
    return Interval(float(low), float(high))


def resampled_quantile(values: Floats, level: float) -> Interval:
    """Return the percentile bootstrap interval of a quantile; ``values`` is (specimens, runs) and may hold infinity.

    The upper end is infinite with fewer specimens than it takes to see the quantile's far side once for sure (59 for
    the 95th percentile: ``0.95^59 < 0.05``), since specimens that were not drawn may all lie beyond.
    """
    specimens, runs = values.shape
    order = np.argsort(values, axis=None)
    owner, ranked = order // runs, values.ravel()[order]
    found = np.concatenate([_weighted_quantiles(ranked, owner, block, level) for block in _weights(specimens)])
    low, high = np.quantile(found, ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2), method="inverted_cdf")
    return Interval(float(low), float(high) if specimens >= clean_runs_for(1 - level) else math.inf)


def quantile(values: Floats, level: float) -> float:
    """Return the smallest value that at least ``level`` of all values reach; infinity counts as the largest."""
    return float(np.quantile(values, level, method="inverted_cdf")) if values.size else math.nan


def _weighted_quantiles(ranked: Floats, owner: NDArray[np.int64], weights: Floats, level: float) -> Floats:
    """Return the quantile in each resample; few resamples at once, so that memory stays bounded."""
    size = max(1, BLOCK // len(ranked))
    parts = (weights[first : first + size] for first in range(0, len(weights), size))
    places = []
    for part in parts:
        reached = np.cumsum(part[:, owner], axis=1)
        places.append(np.count_nonzero(reached < level * reached[:, -1:] - 1e-9, axis=1))
    return np.asarray(ranked[np.concatenate(places)])


def _weights(specimens: int) -> Iterator[Floats]:
    """Give how often each specimen is drawn in each resample, in blocks of bounded size."""
    size = max(1, min(RESAMPLES, BLOCK // specimens))
    for first in range(0, RESAMPLES, size):
        yield _block(specimens, first, min(size, RESAMPLES - first))


@lru_cache(maxsize=1)
def _block(specimens: int, first: int, many: int) -> Floats:
    chance = np.random.Generator(np.random.Philox(key=(SEED, first)))
    return chance.multinomial(specimens, np.full(specimens, 1 / specimens), many).astype(float)


def _acceleration(statistic: Statistic, specimens: int) -> float:
    """Return the skewness of leaving one specimen out, over six."""
    if not 2 <= specimens <= JACKKNIFE_LIMIT:
        return 0.0
    without = statistic(np.ones((specimens, specimens)) - np.eye(specimens))
    if not np.isfinite(without).all():
        return 0.0
    away = without.mean() - without
    spread = float(np.sum(away**2)) ** 1.5
    return float(np.sum(away**3)) / (6 * spread) if spread > 0 else 0.0


def _outwards(confidence: float, specimens: int) -> float:
    """Return the quantile of a two-sided interval from few specimens; 1.96 for 0.95 and many.

    Source: Student's t by its expansion, Abramowitz & Stegun, 26.7.5; within 0.5 % from 5 specimens on.
    """
    z, freedom = z_of(confidence), specimens - 1
    first = (z**3 + z) / 4.0
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96.0
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384.0
    return (z + first / freedom + second / freedom**2 + third / freedom**3) * math.sqrt(specimens / freedom)


def _corrected(shift: float, acceleration: float, most: float) -> tuple[float, float]:
    def level(z: float) -> float:
        return NormalDist().cdf(shift + (shift + z) / (1 - acceleration * (shift + z)))

    return level(-most), level(most)
