"""The statistical ear's law, term by term."""

import math
from dataclasses import replace

import pytest

from models.hearing.base import EarDraws
from models.units import cents
from tests.loop.rigs import EAR

STILL = EarDraws(0.0, 0.0, 0.0, 0.5, 0.5)


def error(ear, draws=STILL, level_db=0.0, since_s=0.3) -> float:
    estimate = ear.estimate(110.0, level_db, since_s, draws)
    return cents(estimate.pitch_hz, 110.0)


def test_bias_and_glide_add_up() -> None:
    ear = replace(EAR, bias_cents=1.5, glide_cents=8.0, glide_s=0.3)
    assert error(ear, since_s=0.6) == pytest.approx(1.5 + 8.0 * math.exp(-2.0), abs=1e-9)


def test_a_fast_clock_reads_flat() -> None:
    """A clock 0.5 % fast takes samples too close together: 1200 log2(1/1.005) = -8.635 cents."""
    assert error(replace(EAR, clock_ppm=5000.0)) == pytest.approx(-8.6346, abs=1e-3)


@pytest.mark.parametrize(("uniform", "wanted"), [(0.05, -1200.0), (0.97, 1200.0), (0.5, 0.0)])
def test_octaves_lie_at_the_ends_of_one_draw(uniform: float, wanted: float) -> None:
    ear = replace(EAR, octave_low_share=0.1, octave_high_share=0.05)
    assert error(ear, STILL._replace(gross_uniform=uniform)) == pytest.approx(wanted, abs=1e-9)


def test_wild_readings_lie_evenly_within_their_reach() -> None:
    ear = replace(EAR, octave_low_share=0.1, wild_share=0.4, wild_cents=300.0)
    found = [error(ear, STILL._replace(gross_uniform=0.1 + 0.4 * part)) for part in (0.0, 0.25, 0.5, 0.999999)]
    assert found == pytest.approx([-300.0, -150.0, 0.0, 300.0], abs=1e-3)
    assert error(ear, STILL._replace(gross_uniform=0.51)) == pytest.approx(0.0, abs=1e-9)


def test_periodicity_tells_the_signal_from_the_noise() -> None:
    """Signal over signal and noise: 0.5 at 0 dB, 0.8 at 6 dB (McLeod & Wyvill 2005 for the measure)."""
    ear = replace(EAR, fresh_snr_db=0.0, periodicity_most=0.98)
    assert ear.estimate(110.0, 0.0, 0.3, STILL).periodicity == pytest.approx(0.98 * 0.5)
    assert ear.estimate(110.0, 6.02, 0.3, STILL).periodicity == pytest.approx(0.98 * 0.8, abs=1e-3)


def test_a_slack_or_faded_string_is_not_heard() -> None:
    assert EAR.estimate(None, 0.0, 0.3, STILL).pitch_hz is None
    assert EAR.estimate(110.0, -200.0, 0.3, STILL).pitch_hz is None
