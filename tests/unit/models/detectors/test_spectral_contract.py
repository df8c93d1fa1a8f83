"""What every spectral detector promises: models/detectors/base.py."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from models.detectors.base import NOT_HEARD, Samples, Work
from tests.unit.models.detectors.spectral import KINDS, partials, told

FALLING = [1.0, 0.7, 0.5, 0.35, 0.25, 0.18]
BIAS_CENTS = {"bin": 1200 * math.log2(1 + 2 / 108), "fixed-16": 1.0, "parabola": 0.5, "harmonic product": 0.5}

each = pytest.mark.parametrize("kind", KINDS)


@each
@pytest.mark.parametrize("hz", [110.0, 147.3, 196.1, 246.9, 392.0])
def test_an_exact_sound_is_read_within_the_stated_bias(kind: str, hz: float) -> None:
    """256 ms hold 28 periods or more; half a bin of 3.9 Hz is the bias of a line, leakage that of the others."""
    detector = told(kind, lowest_hz=hz / 1.3, highest_hz=hz * 1.3)
    estimate = detector.estimate(partials(hz, FALLING, 1024, 4000.0), 4000.0)
    assert estimate.pitch_hz is not None
    assert abs(1200 * math.log2(estimate.pitch_hz / hz)) <= BIAS_CENTS.get(kind, 0.1)
    assert estimate.periodicity > 0.98


@pytest.mark.parametrize("kind", ["harmonic product", "harmonic comb", "least squares"])
def test_a_harmonic_sound_needs_no_gate(kind: str) -> None:
    """Second partial twice as strong as the first: the spectrum's peak is an octave up, the pitch is not."""
    sound = partials(110.0, [0.5, 1.0, 0.6, 0.4, 0.3, 0.2], 1024, 4000.0)
    peak = told("peak", lowest_hz=35.0, highest_hz=800.0).estimate(sound, 4000.0)
    assert peak.pitch_hz is None or abs(peak.pitch_hz / 220.0 - 1.0) < 0.01
    pitch_hz = told(kind, lowest_hz=35.0, highest_hz=800.0).estimate(sound, 4000.0).pitch_hz
    assert pitch_hz == pytest.approx(110.0, rel=3e-4)


@pytest.mark.parametrize("kind", ["harmonic comb", "least squares"])
def test_known_inharmonicity_leaves_the_first_partial(kind: str) -> None:
    """B 2.5e-4 raises partial 6 by 7.6 cents (865.6 B (n^2 - 1), independent arithmetic); told of it, all agree."""
    sound = partials(82.4, FALLING, 1024, 4000.0, inharmonicity=2.5e-4)
    ignorant, knowing = (told(kind, inharmonicity=b).estimate(sound, 4000.0).pitch_hz for b in (0.0, 2.5e-4))
    assert ignorant is not None and knowing is not None
    assert abs(1200 * math.log2(knowing / 82.4)) < 0.1
    assert 1.0 < 1200 * math.log2(ignorant / 82.4) < 7.6


@each
def test_silence_noise_and_too_few_samples_are_not_heard(kind: str) -> None:
    detector = told(kind)
    assert detector.estimate(np.zeros(1024), 4000.0) == NOT_HEARD
    assert told(kind, least_periodicity=0.0).estimate(np.zeros(1024), 4000.0) == NOT_HEARD
    rng = np.random.default_rng(8)
    assert all(detector.estimate(rng.normal(0.0, 30.0, 256), 1024.0).pitch_hz is None for _ in range(50))
    short = detector.least_samples(4000.0) - 1
    assert detector.estimate(partials(110.0, FALLING, short, 4000.0), 4000.0) == NOT_HEARD
    assert detector.estimate(np.zeros(0), 4000.0) == NOT_HEARD


@each
def test_the_least_window_hears_a_tone(kind: str) -> None:
    detector = told(kind)
    sound = partials(240.0, FALLING, detector.least_samples(8000.0), 8000.0)
    assert detector.estimate(sound, 8000.0).pitch_hz is not None


@each
def test_a_call_changes_nothing(kind: str) -> None:
    sound = partials(110.0, FALLING, 512, 2000.0)
    before = sound.copy()
    detector = told(kind)
    first = detector.estimate(sound, 2000.0)
    detector.estimate(partials(200.0, FALLING, 300, 2000.0), 2000.0)
    assert detector.estimate(sound, 2000.0) == first
    assert np.array_equal(sound, before)


@each
def test_what_is_louder_has_the_same_pitch(kind: str) -> None:
    """In 16 bits a quiet sound loses to rounding: 2 cents are allowed there."""
    sound = partials(110.0, FALLING, 512, 2000.0)
    quiet, loud = (told(kind).estimate(sound * gain, 2000.0).pitch_hz for gain in (1.0, 8.0))
    assert quiet is not None and loud is not None
    assert quiet == pytest.approx(loud, rel=1.2e-3 if kind == "fixed-16" else 1e-9)


@each
def test_a_range_above_half_the_rate_hears_nothing(kind: str) -> None:
    detector = told(kind, lowest_hz=3000.0, highest_hz=3500.0)
    assert detector.estimate(partials(110.0, FALLING, 1024, 4000.0), 4000.0) == NOT_HEARD


@each
def test_a_range_upside_down_is_refused(kind: str) -> None:
    with pytest.raises(ValidationError, match=r"lowest_hz \(500\) must lie below highest_hz \(100\)"):
        told(kind, lowest_hz=500.0, highest_hz=100.0)


@each
def test_work_grows_with_the_window(kind: str) -> None:
    """Twice the samples: more than twice the butterflies (N log N), and just twice the memory."""
    small, large = (told(kind).work(samples, 4000.0) for samples in (512, 1024))
    assert isinstance(small, Work)
    assert all(math.isfinite(count) and count > 0 for count in (*small, *large))
    assert large.butterflies > 2.0 * small.butterflies
    assert large.words == 2 * small.words


@st.composite
def _odd_sounds(draw: st.DrawFn) -> tuple[Samples, float]:
    samples = draw(st.integers(0, 700))
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    shapes = {
        "noise": rng.normal(size=samples),
        "step": np.where(np.arange(samples) < samples // 2, 0.0, 1.0),
        "click": (np.arange(samples) == samples // 3) * 1.0,
        "still": np.ones(samples),
        "square": np.sign(np.sin(np.arange(samples) * rng.uniform(0.01, 3.2))),
        "ramp": np.arange(samples) * 1.0,
        "alternating": np.resize([1.0, -1.0], samples),
    }
    size = draw(st.sampled_from([1e-300, 1e-6, 1.0, 500.0, 1e9, 1e305]))
    return size * shapes[draw(st.sampled_from(sorted(shapes)))], draw(st.floats(30.0, 50000.0))


@given(_odd_sounds(), st.floats(1.0, 5000.0), st.floats(1.001, 100.0), st.data())
@settings(max_examples=200, deadline=None)
def test_any_window_gives_a_finite_estimate(
    heard: tuple[Samples, float], lowest_hz: float, ratio: float, data: Any
) -> None:
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    detector = told(kind, lowest_hz=lowest_hz, highest_hz=lowest_hz * ratio, least_periodicity=0.0)
    estimate = detector.estimate(*heard)
    assert 0.0 <= estimate.periodicity <= 1.0
    assert estimate.pitch_hz is None or 0.0 < estimate.pitch_hz <= heard[1] / 2.0
