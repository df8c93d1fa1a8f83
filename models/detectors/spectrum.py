"""What spectral detectors share: the Hann window, padded spectra, places of peaks between lines, teeth of a comb.

Places in a spectrum are counted in *bins*, lines of the unpadded transform, ``rate_hz / N`` apart; *lines* are indices
of a padded one, ``padding`` of them to a bin. The window is the periodic Hann ``(1 - cos(2 pi k / N)) / 2``.
"""

import math
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import Samples

Spectrum = NDArray[np.complex128]
Values = NDArray[np.float64]
Lines = NDArray[np.intp]

LEAST_PERIODS: Final = 4.0  # the lobe of a Hann window reaches 2 bins: neighbours a pitch apart do not overlap
FEWEST_SAMPLES: Final = 16  # below this a spectrum has no room for a lobe on each side; estimate
TINY: Final = 1e-300  # keeps logarithms and ratios of silent lines finite


def shortest_window(rate_hz: float, lowest_hz: float) -> int:
    """Return the samples of four of the longest periods: the lobes of two partials of a Hann spectrum stay apart."""
    return max(FEWEST_SAMPLES, math.ceil(LEAST_PERIODS * rate_hz / lowest_hz))


@lru_cache(maxsize=32)
def hann(samples: int) -> Values:
    """Return the periodic Hann window of so many samples; read-only, shared by all callers (Harris 1978)."""
    window: Values = 0.5 - 0.5 * np.cos(np.arange(samples) * (2.0 * np.pi / samples))
    window.setflags(write=False)
    return window


def spectrum(samples: Samples, padding: int = 1) -> Spectrum:
    """Return the Hann spectrum of real samples, zeros appended to ``padding`` times their number; not scaled."""
    found: Spectrum = np.fft.rfft(samples * hann(len(samples)), padding * len(samples))
    return found


def magnitudes(samples: Samples, padding: int = 1) -> Values:
    """Return the magnitudes of ``spectrum``."""
    found: Values = np.abs(spectrum(samples, padding))
    return found


def tone(samples: Samples, hz: float, rate_hz: float) -> complex:
    """Return one bin of the transform, at any frequency: ``sum x_k exp(-2 pi i hz k / rate)``; not scaled."""
    return complex(samples @ np.exp(np.arange(len(samples)) * (-2j * np.pi * hz / rate_hz)))


def parabola(heights: Values, lines: Lines) -> Values:
    """Return how far, in lines, each peak lies above its line: vertex of a parabola through three log magnitudes.

    At most 0.0160 off for the unpadded Hann spectrum of one tone; never more than a line. ``lines`` need a neighbour
    on both sides.
    """
    below, top, above = (np.log(np.maximum(heights[lines + step], TINY)) for step in (-1, 0, 1))
    bend = below - 2.0 * top + above
    offset: Values = np.divide(below - above, 2.0 * bend, out=np.zeros(bend.shape), where=bend < 0.0)
    return offset.clip(-1.0, 1.0)


def hann_ratio(heights: Values, lines: Lines, padding: int) -> Values:
    """Return how far, in bins, each peak lies above its line, from the larger neighbour one bin away.

    ``d = (2 r - 1) / (r + 1)`` with ``r`` the neighbour over the peak: exact for one tone under a Hann window, whose
    lobe is ``sin(pi x) / (pi x (1 - x^2))`` (independent arithmetic); never more than a bin. ``lines`` need a
    neighbour one bin away on both sides.
    """
    below, above = heights[lines - padding], heights[lines + padding]
    ratio = np.maximum(below, above) / np.maximum(heights[lines], TINY)
    offset = np.minimum((2.0 * ratio - 1.0) / (ratio + 1.0), 1.0)
    return np.where(above >= below, offset, -offset)


def line_range(low_bin: float, high_bin: float, lines: int, padding: int) -> range:
    """Return the lines of a search range between two bins, a bin away from both ends of the spectrum; may be empty."""
    first = max(float(padding), low_bin * padding)
    last = min(lines - 1.0 - padding, high_bin * padding)
    return range(round(first), round(max(first - 1.0, last)) + 1)


def highest_line(heights: Values, lines: range) -> int:
    """Return the line of the largest height in a range that is not empty."""
    return lines.start + int(np.argmax(heights[lines.start : lines.stop]))


def multiples(partials: int, inharmonicity: float) -> Values:
    """Return the partials of a string as multiples of its first: ``n sqrt((1 + B n^2) / (1 + B))``, n from 1."""
    number = np.arange(1.0, partials + 1.0)
    return number * np.sqrt((1.0 + inharmonicity * number**2) / (1.0 + inharmonicity))


@lru_cache(maxsize=64)
def comb(
    low_bin: float, high_bin: float, lines: int, padding: int, partials: int, inharmonicity: float
) -> tuple[Values, Lines]:
    """Return candidates for the first partial in bins, shape (C,), and the line of each partial, shape (H, C).

    Candidates lie so close that the highest partial moves half a bin from one to the next. A partial outside the
    spectrum has line ``lines``, one past its end. Empty where the range lies above half the rate.
    """
    top = min(high_bin, (lines - 1) / padding - 2.0)
    candidates = np.arange(low_bin, max(low_bin, top), 0.5 / partials)
    teeth = np.rint(np.outer(multiples(partials, inharmonicity) * padding, candidates))
    return candidates, np.minimum(teeth, lines).astype(np.intp)


def best_tooth(scores: Values, keep: float, reach: int) -> int:
    """Return the candidate of the highest pitch whose score is ``keep`` of the best, at the top of its own hill.

    Half a pitch hits the same partials with every second tooth; the highest candidate is the one that wastes none.
    ``reach`` is how many candidates a hill's slope has.
    """
    last = int(np.flatnonzero(scores >= keep * scores.max())[-1])
    start = max(0, last - reach)
    return start + int(np.argmax(scores[start : last + 1]))
