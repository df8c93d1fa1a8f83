"""The converter as its contract words it: whole steps, ends of the range, instants, refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx

from models.hearing.converter import Converter

MADE = {
    "rate_hz": 1024.0, "bits": 10, "reference_v": 5.0, "clock_ppm": 0.0, "jitter_us": 0.0, "conversion_cycles": 13.0,
    "converter_clock_khz": 125.0, "nonlinearity_steps": 0.0,
}  # fmt: skip


def made(**changed: object) -> Converter:
    return Converter(**{**MADE, **changed})


@given(
    st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=50), st.floats(0.0, 5.0), st.integers(6, 24),
    st.floats(0.0, 2.0),
)  # fmt: skip
def test_codes_are_whole_and_inside_the_range(volts: list[float], rest: float, bits: int, bow: float) -> None:
    codes, at_an_end = made(bits=bits, nonlinearity_steps=bow).codes(np.array(volts), rest)
    assert np.all(codes == np.round(codes))
    assert np.ptp(codes) <= 2.0**bits - 1.0
    assert np.max(np.abs(codes)) <= 2.0**bits - 1.0
    assert 0.0 <= at_an_end <= 1.0


@given(st.floats(-2.4, 2.4), st.integers(6, 24))
def test_a_voltage_is_known_to_a_step(volts: float, bits: int) -> None:
    codes, _ = made(bits=bits).codes(np.array([volts]), 2.5)
    assert codes[0] * made(bits=bits).step_v() == approx(volts, abs=1.001 * made(bits=bits).step_v())


def test_silence_is_no_step_wherever_the_circuit_rests() -> None:
    for rest in (0.0, 1.75, 2.5, 3.3, 5.0):
        assert made(nonlinearity_steps=0.5).codes(np.zeros(3), rest)[0] == approx([0.0, 0.0, 0.0])


def test_samples_at_an_end_are_counted() -> None:
    codes, at_an_end = made().codes(np.array([-9.0, -1.0, 0.0, 9.0]), 2.5)
    assert at_an_end == 0.5
    assert list(codes) == [-512.0, -205.0, 0.0, 511.0]


def test_a_circuit_that_rests_at_ground_loses_half_the_wave() -> None:
    """A split supply without a level shift: what lies below 0 V reads 0."""
    codes, at_an_end = made().codes(np.array([-2.0, -1.0, 1.0, 2.0]), 0.0)
    assert list(codes) == [0.0, 0.0, 204.0, 409.0]
    assert at_an_end == 0.5


def test_nonlinearity_bows_by_its_steps_and_not_at_the_ends() -> None:
    volts = np.linspace(0.0, 5.0, 4001)[1:-1]
    bent = made(bits=16, nonlinearity_steps=40.0).codes(volts, 0.0)[0] - made(bits=16).codes(volts, 0.0)[0]
    assert np.max(bent) == approx(40.0, abs=1.0)
    assert np.min(bent) == approx(-40.0, abs=1.0)
    assert abs(bent[0]) <= 1.0
    assert abs(bent[-1]) <= 1.0


def test_input_is_left_as_it_was() -> None:
    volts = np.linspace(-3.0, 3.0, 9)
    kept = volts.copy()
    made().codes(volts, 2.5)
    assert np.array_equal(volts, kept)


def test_instants_follow_the_true_clock() -> None:
    assert made(clock_ppm=5000.0).instants_s(3) == approx(np.arange(3) / (1024.0 * 1.005), rel=1e-12)


def test_jitter_moves_instants_by_its_draws() -> None:
    moved = made(jitter_us=10.0).jitter_s(np.array([0.0, 1.0, -2.0]))
    assert moved == approx([0.0, 10e-6, -20e-6], abs=1e-12)


def test_a_rate_beyond_the_conversion_time_is_refused() -> None:
    with pytest.raises(ValidationError, match=r"rate_hz 10000 is too fast: 13 cycles of 125 kHz allow 9615.4"):
        made(rate_hz=10_000.0)


@pytest.mark.parametrize("changed", [{"bits": 5}, {"bits": 25}, {"reference_v": 0.0}, {"jitter_us": -1.0}])
def test_impossible_values_are_refused(changed: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        made(**changed)
