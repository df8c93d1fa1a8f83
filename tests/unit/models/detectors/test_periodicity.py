"""Periodicity: 1 for tones, SNR/(1 + SNR) for tones in noise, near 0 for noise, at any rate and window."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.detectors.base import Samples
from models.detectors.periodicity import periodicity


def _tone(hz: float, rate_hz: float, samples: int) -> Samples:
    return np.sin(2 * np.pi * hz * np.arange(samples) / rate_hz + 1.0)


@pytest.mark.parametrize("lag", [4, 7, 25, 50])
def test_at_whole_lags_it_is_the_published_function(lag: int) -> None:
    """Definition of n(tau) = 2 r(tau) / m(tau), McLeod & Wyvill 2005."""
    samples = np.random.default_rng(3).normal(size=200) + 2.0 * _tone(0.02, 1.0, 200)
    early, late = samples[:-lag], samples[lag:]
    expected = 2.0 * (early @ late) / (early @ early + late @ late)
    assert periodicity(samples, 1000.0, 1000.0 / lag) == pytest.approx(max(0.0, expected), abs=1e-9)


@given(st.floats(2.1, 60.0), st.sampled_from([256, 512, 1024]))
def test_a_clean_tone_repeats_at_any_period(period: float, samples: int) -> None:
    """A tone equals itself one period later (independent arithmetic); the ends of the window may cost 2 %."""
    assert periodicity(_tone(1000.0 / period, 1000.0, samples), 1000.0, 1000.0 / period) > 0.98


@pytest.mark.parametrize("snr_db", [0.0, 3.0, 10.0])
def test_a_tone_in_noise_shows_its_signal_to_noise_ratio(snr_db: float) -> None:
    """SNR/(1 + SNR): correlation of two parts that share the tone and not the noise (independent arithmetic)."""
    snr = 10.0 ** (snr_db / 10.0)
    rng = np.random.default_rng(4)
    tone = np.sqrt(2.0 * snr) * _tone(110.0, 4000.0, 1024)
    seen = np.mean([periodicity(tone + rng.normal(size=1024), 4000.0, 110.0) for _ in range(50)])
    assert seen == pytest.approx(snr / (1.0 + snr), abs=0.03)


def test_noise_hardly_repeats() -> None:
    """Standard deviation of a correlation of N samples is 1/sqrt(N): 0.3 is 4.8 of them at N = 256."""
    rng = np.random.default_rng(5)
    assert max(periodicity(rng.normal(size=256), 1024.0, 90.0) for _ in range(200)) < 0.3


def test_silence_and_short_windows_have_none() -> None:
    assert periodicity(np.zeros(256), 1024.0, 90.0) == 0.0
    assert periodicity(np.ones(0), 1024.0, 90.0) == 0.0
    assert periodicity(_tone(10.0, 1024.0, 100), 1024.0, 10.0) == 0.0
