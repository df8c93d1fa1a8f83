"""How well any detector can do in white noise: Cramer-Rao bounds of the frequency of tones, as standard deviations."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def tone_hz(snr: float, samples: int, rate_hz: float) -> float:
    """Return the bound of the frequency of one real tone in hertz; infinite without signal or with one sample.

    ``snr`` is the ratio of powers, ``A^2 / (2 sigma^2)``. A complex tone of the same ratio ``A^2 / sigma^2`` has this
    bound over the root of two. Source: Rife & Boorstyn 1974.
    """
    if snr <= 0.0 or samples < 2:
        return math.inf
    return rate_hz / (2.0 * math.pi) * math.sqrt(12.0 / (snr * samples * (samples**2 - 1.0)))


def harmonic_hz(
    amplitudes: Sequence[float], numbers: Sequence[float], noise_std: float, samples: int, rate_hz: float
) -> float:
    """Return the bound of the pitch of a sum of real tones at ``numbers`` times the pitch, in hertz.

    ``numbers`` are 1, 2, 3, ... or, with inharmonicity ``B``, ``n sqrt(1 + B n^2)``; ``noise_std`` is in the unit of
    ``amplitudes``. 0 without noise; infinite when all amplitudes are 0. For windows of several periods.

    Source: sum of the information of all partials, from the bound of one tone (independent arithmetic).
    """
    weight = math.fsum((amplitude * number) ** 2 for amplitude, number in zip(amplitudes, numbers, strict=True))
    return tone_hz(weight / (2.0 * noise_std**2), samples, rate_hz) if noise_std > 0.0 else 0.0


def window_loss(window: NDArray[np.float64]) -> float:
    """Return by how much a symmetric window raises the standard deviation of frequency above the bound, 1 or more.

    ``sqrt(sum w^2 t^2 sum t^2) / sum w t^2`` with ``t`` from the window's centre; the shape (N,) of ``window`` is its
    length. Source: first-order error of a spectrum's maximum (independent arithmetic).
    """
    square = (np.arange(len(window)) - (len(window) - 1) / 2.0) ** 2
    return math.sqrt(float(window**2 @ square) * float(square.sum())) / float(window @ square)
