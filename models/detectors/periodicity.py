"""How much a window repeats itself at a pitch: one number from 0 (noise) to 1 (a clean tone)."""

from typing import Final

import numpy as np

from models.detectors.base import Samples

MULTIPLIES_PER_SAMPLE: Final = 3.0  # one product at each of two lags, and the energy


def periodicity(samples: Samples, rate_hz: float, pitch_hz: float) -> float:
    """Return the normalised square-difference value ``n(T) = 2 r(T) / m(T)`` at one period, held in 0..1.

    ``r(T)`` is the autocorrelation without window and ``m(T)`` the energy of the two parts that it compares; for a tone
    in white noise ``n`` is about SNR/(1 + SNR). ``T = rate_hz / pitch_hz`` need not be whole: ``r`` is the transform of
    the power spectrum, so its value between two lags is exact for what was sampled below half the rate. 0 for silence
    and for a window shorter than one period and two samples.

    Source: McLeod & Wyvill 2005 (normalised square difference); interpolation is independent arithmetic.
    """
    lag = rate_hz / pitch_hz
    if len(samples) < lag + 2.0:
        return 0.0
    energy = _energy(samples, lag)
    if energy <= 0.0:
        return 0.0
    return min(1.0, max(0.0, 2.0 * _correlation(samples, lag) / energy))


def _correlation(samples: Samples, lag: float) -> float:
    """Return ``r(lag)`` by the transform of the power spectrum, padded so that no part wraps around."""
    size = 2 * len(samples)
    spectrum = np.fft.rfft(samples, size)
    power = spectrum.real**2 + spectrum.imag**2
    wave = np.cos(np.arange(len(power)) * (2.0 * np.pi * lag / size))
    return float(2.0 * (power @ wave) - power[0] - power[-1] * wave[-1]) / size


def _energy(samples: Samples, lag: float) -> float:
    """Return ``m(lag)``: energy without the last, plus without the first ``lag`` samples, straight between two lags."""
    whole = int(lag)
    twice = 2.0 * float(samples @ samples)
    first, last = samples[: whole + 1], samples[len(samples) - whole - 1 :]
    left = float(first @ first) + float(last @ last)
    edge = float(first[-1] ** 2 + last[0] ** 2)
    return twice - left + (1.0 - (lag - whole)) * edge
