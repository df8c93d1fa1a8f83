"""What detectors in the lag domain share: sums over lags by Fourier transform, their crests, and places between lags.

Sums take ``scaled`` samples, shape (N,), and come as arrays indexed by the lag in samples, from 0. All are exact sums
over the samples that two shifted copies have in common: transforms are padded, so that nothing wraps around.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import NOT_HEARD, Samples
from models.messages import Estimate

Values = NDArray[np.float64]
Lags = NDArray[np.intp]

SHORTEST_LAG: Final = 3  # a vertex half a lag below it still lies under half the sampling rate
ROUNDING: Final = 1e-12  # share of a window's energy below which a difference of sums is rounding


def ordered(lowest_hz: float, highest_hz: float) -> None:
    """Raise ``ValueError`` unless the search range runs upwards."""
    if lowest_hz >= highest_hz:
        raise ValueError(f"lowest_hz ({lowest_hz:g}) must lie below highest_hz ({highest_hz:g})")


def heard(pitch_hz: float, periodicity: float, least: float) -> Estimate:
    """Return the estimate, its periodicity held in 0..1; ``NOT_HEARD`` below the least periodicity."""
    return Estimate(pitch_hz, min(1.0, max(0.0, periodicity))) if periodicity >= least else NOT_HEARD


def scaled(samples: Samples) -> Samples:
    """Return the samples over their largest magnitude, so that squares neither overflow nor vanish; silence as zeros.

    What is no sound, because a sample is infinite or undefined, counts as silence.
    """
    peak = float(np.max(np.abs(samples), initial=0.0))
    return samples / peak if 0.0 < peak < math.inf else np.zeros(len(samples))


def searched(samples: int, rate_hz: float, lowest_hz: float, highest_hz: float) -> range:
    """Return the whole lags to search: around the range of periods, at most half the window; may be empty."""
    longest = samples // 2 - 1
    start = max(SHORTEST_LAG, math.floor(min(longest + 1.0, rate_hz / highest_hz)))
    return range(start, math.ceil(min(float(longest), rate_hz / lowest_hz)) + 1)


def shortest_window(rate_hz: float, lowest_hz: float) -> int:
    """Return the samples that ``searched`` needs to reach the longest period: two of them and a lag on each side."""
    return 2 * (math.ceil(rate_hz / lowest_hz) + 1)


def products(first: Samples, second: Samples) -> Values:
    """Return ``sum_j first[j] second[j + lag]`` for the lags 0 to ``len(second) - 1``."""
    size = 1 << (len(first) + len(second) - 1).bit_length()
    spectrum = np.fft.rfft(second, size) * np.fft.rfft(first, size).conj()
    return np.fft.irfft(spectrum, size)[: len(second)]


def square_difference(samples: Samples) -> Values:
    """Return the normalised square difference ``n(lag) = 2 r(lag) / m(lag)`` for the lags 0 to N - 1.

    ``r`` is the sum of products, ``m`` the energy of the two parts that it compares. 1 = repeats itself, 0 = noise,
    -1 = its own opposite; 0 where both parts are silent. Source: McLeod & Wyvill 2005.
    """
    energy = _energy(samples)
    both = energy[:0:-1] + energy[-1] - energy[:-1]
    louder = both > ROUNDING * energy[-1]
    values: Values = np.divide(2.0 * products(samples, samples), both, out=np.zeros(len(samples)), where=louder)
    return values


def difference(samples: Samples, width: int) -> Values:
    """Return ``d(lag) = sum_(j < width) (x[j] - x[j + lag])^2`` for the lags 0 to ``N - width``.

    Source: de Cheveigne & Kawahara 2002.
    """
    energy = _energy(samples)
    parts = energy[width:] - energy[: len(energy) - width]
    sums = parts[0] + parts - 2.0 * products(samples[:width], samples)[: len(parts)]
    return np.where(sums > ROUNDING * energy[-1], sums, 0.0)


def mean_normalised(differences: Values) -> Values:
    """Return ``d'(lag)``: each difference over the mean of those at the lags 1 to its own; 1 at lag 0 and for silence.

    Source: de Cheveigne & Kawahara 2002.
    """
    sums = np.cumsum(differences)  # d(0) is 0
    weighted = differences * np.arange(len(differences))
    return np.divide(weighted, sums, out=np.ones(len(differences)), where=sums > 0.0)


def crests(values: Values, lags: range) -> Lags:
    """Return the lags with a value above both neighbours; ``lags`` must leave a neighbour on each side."""
    around = values[lags.start - 1 : lags.stop + 1]
    middle = around[1:-1]
    return np.flatnonzero((middle > around[:-2]) & (middle >= around[2:])) + lags.start


def key_maxima(values: Values, lags: range) -> Lags:
    """Return the highest crest of each stretch of positive values, as far as it lies in ``lags``.

    The stretch that begins at lag 0 does not count: there a sound resembles itself. Source: McLeod & Wyvill 2005.
    """
    positive = values[: lags.stop] > 0.0
    stretch = np.concatenate(([0], np.cumsum(positive[1:] & ~positive[:-1])))
    found = crests(values, range(1, lags.stop))
    found = found[positive[found] & (stretch[found] > 0)]
    found = found[np.lexsort((values[found], stretch[found]))]
    highest = np.diff(stretch[found], append=-1) != 0
    keys: Lags = found[highest & (found >= lags.start)]
    return keys


def vertex(values: Values, lag: int) -> tuple[float, float]:
    """Return place and height of the parabola through the values at a lag and its two neighbours.

    The place stays within a lag of the middle one; three values in a line have it in the middle.
    """
    left, middle, right = (float(value) for value in values[lag - 1 : lag + 2])
    bend = left - 2.0 * middle + right
    shift = max(-1.0, min(1.0, (left - right) / (2.0 * bend))) if bend else 0.0
    return lag + shift, middle - (left - right) * shift / 4.0


def _energy(samples: Samples) -> Values:
    """Return the sums of the first 0, 1, ..., N squares."""
    return np.concatenate(([0.0], np.cumsum(samples * samples)))
