"""How sure a number is: closed forms, and resampling of specimens, since runs of one specimen are alike."""

import math
from bisect import bisect_left
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
BLOCK = 250_000  # weights at work at once: 2 MB
BUNDLES = 2000  # specimens above which neighbours are resampled together
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

    The share of 9999 random choices of signs, and the data themselves, whose mean is at least as far from 0. Where all
    differences but those of 0 are of one size, such as yes and no of one run, it is known exactly (McNemar's test).
    Bundles of specimens turn their signs together: fewer choices out of the same, each still equally likely.

    Sources: Fisher 1935, The Design of Experiments, section 21; McNemar 1947, Psychometrika 12, 153, in its exact form.
    """
    sizes = np.abs(differences[differences != 0.0])
    if not sizes.size or sizes.min() == sizes.max():
        return mcnemar(int(np.count_nonzero(differences > 0.0)), int(np.count_nonzero(differences < 0.0)))
    (differences,) = bundled(differences)
    chance = np.random.Generator(np.random.Philox(SEED))
    size = max(1, min(FLIPS, BLOCK // len(differences)))
    found, reached = abs(float(differences.sum())) * (1 - 1e-12), 1
    for first in range(0, FLIPS, size):
        signs = 2 * chance.integers(0, 2, (min(size, FLIPS - first), len(differences)), dtype=np.int8) - 1
        reached += int(np.count_nonzero(np.abs(signs @ differences) >= found))
    return reached / (FLIPS + 1)


def mcnemar(better: int, worse: int) -> float:
    """Return McNemar's exact two-sided p-value of pairs that differ: ``2 P(X <= min)`` of a fair coin.

    At most 1; pairs that agree do not count.
    """
    return min(1.0, 2.0 * at_most(min(better, worse), better + worse, 0.5))


def at_most(count: int, of: int, share: float) -> float:
    """Return the chance of ``count`` events or fewer in ``of`` trials, each with the chance ``share`` (binomial)."""
    from scipy.special import bdtr

    return float(bdtr(count, of, share))


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


def resampled_ratio(sums: Floats, counts: Floats, confidence: float = CONFIDENCE) -> Interval:
    """Return the interval of ``sum(sums) / sum(counts)``, one of each a specimen; see ``resampled`` and ``bundled``."""
    sums, counts = bundled(sums, counts)
    return resampled(lambda weights: (weights @ sums) / (weights @ counts), len(sums), confidence)


def bundled(*sums: Floats) -> list[Floats]:
    """Return sums over bundles of neighbouring specimens where there are more than ``BUNDLES`` of these, else as given.

    Specimens are drawn independently, so bundles are as well, and what is resampled spreads alike: the error of the
    spread is ``1 / sqrt(2 BUNDLES)``, 1.6 %. Time and memory of resampling then no longer grow with the specimens.
    """
    specimens = len(sums[0])
    if specimens <= BUNDLES:
        return list(sums)
    first = np.flatnonzero(np.diff(_bundle_of(specimens), prepend=-1))
    return [np.add.reduceat(each, first) for each in sums]


def _bundle_of(specimens: int) -> NDArray[np.int64]:
    """Return the bundle of each specimen; of at most ``BUNDLES`` specimens each is one by itself."""
    return np.arange(specimens) * min(specimens, BUNDLES) // specimens


def resampled_quantile(values: Floats, level: float) -> Interval:
    """Return the percentile bootstrap interval of a quantile; ``values`` is (specimens, runs) and may hold infinity.

    An end is the smallest value that enough resamples have at or above their quantile, found by halving.

    The upper end is infinite with fewer specimens than it takes to see the quantile's far side once for sure (59 for
    the 95th percentile: ``0.95^59 < 0.05``), since specimens that were not drawn may all lie beyond.
    """
    specimens, runs = values.shape
    order = np.argsort(values, axis=None)
    owner, ranked = _bundle_of(specimens)[order // runs], values.ravel()[order]
    ends = (1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2
    low, high = (ranked[_place(owner, level, _rank(end))] for end in ends)
    return Interval(float(low), float(high) if specimens >= clean_runs_for(1 - level) else math.inf)


def _rank(level: float) -> int:
    """Return how many of all resamples lie at or below their own quantile ``level``."""
    return int(np.quantile(np.arange(RESAMPLES), level, method="inverted_cdf")) + 1


def _place(owner: NDArray[np.int64], level: float, wanted: int) -> int:
    """Return the first place in the order by which ``wanted`` resamples have reached their quantile ``level``.

    ``owner`` holds whose value stands at each place.
    """
    every = np.bincount(owner)

    def reached(place: int) -> int:
        so_far = np.bincount(owner[: place + 1], minlength=len(every))
        return sum(
            int(np.count_nonzero(weights @ so_far >= level * (weights @ every) - 1e-9))
            for weights in _weights(len(every))
        )

    return bisect_left(range(len(owner)), wanted, key=reached)


def quantile(values: Floats, level: float) -> float:
    """Return the smallest value that at least ``level`` of all values reach; infinity counts as the largest."""
    return float(np.quantile(values, level, method="inverted_cdf")) if values.size else math.nan


def _weights(specimens: int) -> Iterator[Floats]:
    """Give how often each specimen is drawn in each resample, in blocks of bounded size."""
    size = max(1, min(RESAMPLES, BLOCK // specimens))
    for first in range(0, RESAMPLES, size):
        yield _block(specimens, first, min(size, RESAMPLES - first)).astype(float)


@lru_cache(maxsize=math.ceil(RESAMPLES * BUNDLES / BLOCK))
def _block(specimens: int, first: int, many: int) -> NDArray[np.uint16]:
    """Return one block; all those of one number of specimens are kept, 8 MB at most."""
    chance = np.random.Generator(np.random.Philox(key=(SEED, first)))
    return chance.multinomial(specimens, np.full(specimens, 1 / specimens), many).astype(np.uint16)


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
