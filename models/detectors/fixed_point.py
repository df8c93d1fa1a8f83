"""A Fourier transform as small processors do it: 16-bit integers, radix 2, halved after every stage.

Whatever headroom the input leaves unused is lost from the result: 61 dB between a full-scale noise of 256 points and
the rounding, one dB less for each dB that the input lies lower (measured with another implementation; the loss of 3 dB
a doubling is Welch 1969, from memory).
"""

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import Samples
from models.detectors.spectrum import Lines, Spectrum, hann

Integers = NDArray[np.int64]

Q15: Final = 32768  # steps in 1.0 of a 16-bit fraction; the largest is one step less
HALF_STEP: Final = 0.5  # magnitude below which an integer spectrum shows nothing


def windowed(samples: Samples, shift_bits: int) -> Integers:
    """Return samples, in converter steps, shifted left, held within 16 bits, and weighted with a Hann window."""
    steps = np.rint(samples.clip(-Q15, Q15) * 2.0**shift_bits).clip(-Q15, Q15 - 1).astype(np.int64)
    return _times(steps, _fraction(hann(len(samples))))


def transform(steps: Integers) -> Spectrum:
    """Return the transform over N of N integers of 16 bits, the lines from 0 to half the rate; N is a power of 2.

    Decimation in time; every sum is halved and every product rounded to the nearest step.
    """
    real = steps[_reversed(len(steps))]
    imaginary = np.zeros_like(real)
    width = 1
    while width < len(steps):
        real, imaginary = _stage(real.reshape(-1, 2, width), imaginary.reshape(-1, 2, width), width)
        width *= 2
    half = len(steps) // 2 + 1
    return real.ravel()[:half] + 1j * imaginary.ravel()[:half]


def _stage(real: Integers, imaginary: Integers, width: int) -> tuple[Integers, Integers]:
    """Return the butterflies of one stage; shape (groups, 2, width): upper and lower halves of each group."""
    cosine, sine = _twiddles(width)
    a, b, c, d = real[:, 0], imaginary[:, 0], real[:, 1], imaginary[:, 1]
    turned = (c * cosine + d * sine + Q15 // 2) >> 15, (d * cosine - c * sine + Q15 // 2) >> 15
    return (
        np.stack((_halved(a + turned[0]), _halved(a - turned[0])), axis=1),
        np.stack((_halved(b + turned[1]), _halved(b - turned[1])), axis=1),
    )


def _halved(sums: Integers) -> Integers:
    return (sums + 1) >> 1


def _times(steps: Integers, fractions: Integers) -> Integers:
    return (steps * fractions + Q15 // 2) >> 15


def _fraction(values: Samples) -> Integers:
    """Return values from -1 to 1 as 16-bit fractions."""
    return np.rint(values * Q15).clip(-Q15, Q15 - 1).astype(np.int64)


@lru_cache(maxsize=32)
def _twiddles(width: int) -> tuple[Integers, Integers]:
    """Return cosine and sine of the turns of a stage."""
    turn = np.arange(width) * (np.pi / width)
    return _fraction(np.cos(turn)), _fraction(np.sin(turn))


@lru_cache(maxsize=32)
def _reversed(size: int) -> Lines:
    """Return the numbers below ``size``, a power of 2, with their bits in reverse order."""
    order = np.zeros(1, dtype=np.intp)
    while len(order) < size:
        order = np.concatenate((2 * order, 2 * order + 1))
    return order
