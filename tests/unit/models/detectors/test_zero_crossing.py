"""Zero crossing: exact where it may be, and what hysteresis is for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx

from models.detectors.base import NOT_HEARD
from models.detectors.zero_crossing import ZeroCrossing
from models.units import cents

RATE_HZ = 4000.0
TIMES_S = np.arange(1024) / RATE_HZ


def crossing(hysteresis: float = 0.3, lowest_hz: float = 35.0, highest_hz: float = 800.0) -> ZeroCrossing:
    return ZeroCrossing(lowest_hz=lowest_hz, highest_hz=highest_hz, hysteresis_share=hysteresis, least_periodicity=0.5)


@given(pitch_hz=st.floats(40.0, 200.0), phase=st.floats(0.0, 6.3))
def test_a_sine_is_read_to_a_fifth_of_a_cent(pitch_hz: float, phase: float) -> None:
    """A straight line in place of a sine is off by at most ``(x^3/6)/x`` of a step ``x``: under 0.2 cents in sum."""
    read = crossing().estimate(np.sin(2 * np.pi * pitch_hz * TIMES_S + phase), RATE_HZ).pitch_hz
    assert read is not None
    assert abs(cents(read, pitch_hz)) < 0.2


def test_two_crossings_are_read_between_samples() -> None:
    """Straight flanks are exact: a triangle of 3.7 ms."""
    periods = np.arange(40) / 14.8
    triangle = np.abs((periods % 1.0) - 0.5) - 0.25
    assert crossing().estimate(triangle, RATE_HZ).pitch_hz == approx(RATE_HZ / 14.8, rel=1e-12)


def test_hysteresis_ignores_ripple_that_crosses_zero() -> None:
    wave = np.sin(2 * np.pi * 80.0 * TIMES_S) + 0.2 * np.sin(2 * np.pi * 1130.0 * TIMES_S)
    with_it, without = (crossing(share, highest_hz=1500.0).estimate(wave, RATE_HZ).pitch_hz for share in (0.4, 0.0))
    assert with_it == approx(80.0, rel=0.01)
    assert without is None or without > 160.0


@pytest.mark.parametrize(("lowest_hz", "highest_hz"), [(35.0, 100.0), (120.0, 800.0)])
def test_a_pitch_outside_the_range_is_not_heard(lowest_hz: float, highest_hz: float) -> None:
    wave = np.sin(2 * np.pi * 110.0 * TIMES_S)
    assert crossing(0.3, lowest_hz, highest_hz).estimate(wave, RATE_HZ) == NOT_HEARD


@given(pitch_hz=st.floats(61.0, 300.0), phase=st.floats(0.0, 6.3))
def test_the_least_window_holds_two_crossings_from_any_phase(pitch_hz: float, phase: float) -> None:
    detector = crossing(0.3, lowest_hz=60.0)
    wave = np.sin(2 * np.pi * pitch_hz * TIMES_S + phase)[: detector.least_samples(RATE_HZ)]
    assert detector.estimate(wave, RATE_HZ).pitch_hz == approx(pitch_hz, rel=2e-3)


def test_a_range_upside_down_is_refused() -> None:
    with pytest.raises(ValidationError, match=r"lowest_hz \(90\) must lie below highest_hz \(80\)"):
        crossing(0.3, 90.0, 80.0)
