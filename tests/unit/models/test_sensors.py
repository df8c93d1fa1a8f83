"""Sensors: a reading lies on a step, within half of one of the truth, inside the limits; noise is in proportion."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx

from models.sensors import CurrentSensor, Encoder, VoltageSensor

CURRENT = CurrentSensor(limit_a=3.2, resolution_a=0.1, noise_a=0.02, rate_hz=500.0)
VOLTAGE = VoltageSensor(limit_v=15.0, resolution_v=0.25, noise_v=0.05, rate_hz=1000.0)
ENCODER = Encoder(counts_per_turn=1200, noise_deg=0.05, rate_hz=200.0)
STEPS = [(CURRENT, 0.1, 0.0, 3.2), (VOLTAGE, 0.25, 0.0, 15.0), (ENCODER, 0.3, -math.inf, math.inf)]
each = pytest.mark.parametrize(("sensor", "step", "low", "high"), STEPS, ids=lambda value: type(value).__name__)


@each
@given(true=st.floats(-20.0, 20.0))
def test_a_reading_is_the_nearest_step_to_the_truth(
    sensor: Any, step: float, low: float, high: float, true: float
) -> None:
    read, within = sensor.reading(true, 0.0), min(max(true, low), high)
    assert abs(read - within) <= step / 2.0 + 1e-12
    assert read / step == approx(round(read / step), abs=1e-9)


@each
def test_the_limits_hold_also_with_noise(sensor: Any, step: float, low: float, high: float) -> None:
    assert sensor.reading(1e3, 5.0) == approx(high if math.isfinite(high) else 1e3, abs=step)
    assert sensor.reading(-1e3, -5.0) == approx(low if math.isfinite(low) else -1e3, abs=step)


@pytest.mark.parametrize(
    ("sensor", "noise"),
    [
        (CurrentSensor(limit_a=3.2, resolution_a=0.0, noise_a=0.02, rate_hz=1.0), 0.02),
        (VoltageSensor(limit_v=15.0, resolution_v=0.0, noise_v=0.05, rate_hz=1.0), 0.05),
    ],
)
def test_without_a_step_the_error_is_the_noise(sensor: Any, noise: float) -> None:
    for normal in (-2.0, 0.0, 1.5):
        assert sensor.reading(1.0, normal) - 1.0 == approx(noise * normal)


def test_edges_of_an_encoder_are_seen_a_little_beside_their_place() -> None:
    """An edge lies half a count from a mark: 0.15 degrees of 0.3."""
    assert ENCODER.reading(0.14, 0.0) == 0.0
    assert ENCODER.reading(0.14, 1.0) == approx(0.3)


@pytest.mark.parametrize(("sensor", "period_s"), [(CURRENT, 0.002), (VOLTAGE, 0.001), (ENCODER, 0.005)])
def test_the_period_is_the_inverse_of_the_rate(sensor: Any, period_s: float) -> None:
    assert sensor.period_s() == approx(period_s)


@pytest.mark.parametrize("rate", [0.0, -1.0, math.inf])
def test_a_sensor_without_a_rate_is_refused(rate: float) -> None:
    with pytest.raises(ValidationError, match="rate_hz"):
        Encoder(counts_per_turn=1200, noise_deg=0.0, rate_hz=rate)


def test_an_encoder_without_counts_is_refused() -> None:
    with pytest.raises(ValidationError, match="counts_per_turn"):
        Encoder(counts_per_turn=0, noise_deg=0.0, rate_hz=1.0)
