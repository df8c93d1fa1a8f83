"""Cramer-Rao bounds: numbers after Rife & Boorstyn 1974, and the limits that they must have."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.detectors.bound import harmonic_hz, tone_hz, window_loss
from models.units import cents

# Rife & Boorstyn 1974, formula for a complex tone (from memory), twice the variance for a real one; digits are
# independent arithmetic: SNR in dB, samples, rate, hertz, cents at a pitch.
ROWS = [
    (20.0, 256, 1024.0, 0.013783, 0.28956, 82.407),
    (20.0, 1024, 4000.0, 0.006730, 0.14139, 82.407),
    (0.0, 1024, 8000.0, 0.134602, 0.52961, 440.0),
]


@pytest.mark.parametrize(("snr_db", "samples", "rate_hz", "bound_hz", "bound_cents", "pitch_hz"), ROWS)
def test_bound_of_one_real_tone(
    snr_db: float, samples: int, rate_hz: float, bound_hz: float, bound_cents: float, pitch_hz: float
) -> None:
    found = tone_hz(10.0 ** (snr_db / 10.0), samples, rate_hz)
    assert found == approx(bound_hz, abs=1e-6)
    assert cents(pitch_hz + found, pitch_hz) == approx(bound_cents, rel=3e-4)


def test_bound_of_a_complex_tone() -> None:
    """7.74635e-4 rad a sample at 10 dB and 100 samples (Rife & Boorstyn 1974; digits independent arithmetic)."""
    assert tone_hz(10.0, 100, 2.0 * math.pi) / math.sqrt(2.0) == approx(7.74635e-4, abs=1e-8)


def test_bound_of_a_harmonic_sound() -> None:
    """Amplitudes 1, 1/2, 1/3 in noise of 0.1 at 110 Hz: 0.086485 cents (independent arithmetic)."""
    found = harmonic_hz((1.0, 1 / 2, 1 / 3), (1.0, 2.0, 3.0), 0.1, 1024, 4000.0)
    assert 1200.0 / math.log(2.0) * found / 110.0 == approx(0.086485, abs=1e-6)


def test_doubling_the_window_divides_the_bound_by_root_eight() -> None:
    assert tone_hz(10.0, 2048, 4000.0) / tone_hz(10.0, 1024, 4000.0) == approx(2.0**-1.5, rel=1e-5)


@given(amplitude=st.floats(0.01, 100.0), number=st.floats(1.0, 20.0), noise=st.floats(0.01, 10.0))
def test_one_partial_of_number_n_tells_n_times_as_much(amplitude: float, number: float, noise: float) -> None:
    alone = tone_hz(amplitude**2 / (2.0 * noise**2), 512, 4000.0)
    assert harmonic_hz([amplitude], [number], noise, 512, 4000.0) == approx(alone / number)


@given(amplitudes=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=8))
def test_every_further_partial_helps_or_costs_nothing(amplitudes: list[float]) -> None:
    bounds = [
        harmonic_hz(amplitudes[:count], range(1, count + 1), 0.1, 256, 1024.0)
        for count in range(1, len(amplitudes) + 1)
    ]
    assert bounds == sorted(bounds, reverse=True)


def test_nothing_is_known_without_signal_and_everything_without_noise() -> None:
    assert tone_hz(0.0, 256, 1024.0) == math.inf
    assert tone_hz(1.0, 1, 1024.0) == math.inf
    assert harmonic_hz([0.0], [1.0], 0.1, 256, 1024.0) == math.inf
    assert harmonic_hz([1.0], [1.0], 0.0, 256, 1024.0) == 0.0


# Harris 1978 has the windows; the loss follows from them by independent arithmetic.
WINDOWS = [((1.0,), 1.0), ((0.5, 0.5), 1.5306), ((0.54, 0.46), 1.2823), ((0.42, 0.5, 0.08), 1.7717)]


@pytest.mark.parametrize(("terms", "loss"), WINDOWS, ids=["rectangular", "Hann", "Hamming", "Blackman"])
def test_windows_cost_spread(terms: tuple[float, ...], loss: float) -> None:
    angle = 2.0 * np.pi * (np.arange(4096) + 0.5) / 4096
    window = sum((-1.0) ** k * term * np.cos(k * angle) for k, term in enumerate(terms))
    assert window_loss(np.asarray(window)) == approx(loss, abs=2e-3 if loss > 1.0 else 1e-12)


@given(scale=st.floats(1e-3, 1e3))
def test_a_louder_window_loses_the_same(scale: float) -> None:
    window = np.hanning(64)
    assert window_loss(scale * window) == approx(window_loss(window))
