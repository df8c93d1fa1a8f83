"""The front end as its contract words it: corners, swing, noise, refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx

from models.hearing.front_end import FrontEnd, butterworth, thermal_v2_hz
from models.hearing.microphone import Microphone

MADE = {
    "gain": 100.0, "stages": 2, "gain_bandwidth_mhz": 1.0, "supply_v": 5.0, "supply": "single", "swing_low_v": 0.0,
    "swing_high_v": 1.5, "bias_v": 1.75, "high_pass_hz": 30.0, "high_pass_order": 0, "band_low_hz": 30.0,
    "band_high_hz": 1500.0, "band_order": 0, "low_pass_hz": 400.0, "low_pass_order": 0, "input_noise_nv_rthz": 40.0,
}  # fmt: skip


def made(**changed: object) -> FrontEnd:
    return FrontEnd(**{**MADE, **changed})


@settings(deadline=None)  # the first call imports scipy.signal
@given(st.integers(1, 8), st.floats(1.0, 1e4), st.sampled_from(["highpass", "lowpass"]))
def test_butterworth_is_3_db_down_at_its_corner_at_any_order(order: int, corner: float, kind: str) -> None:
    """Butterworth 1930: |H|^2 = 1 / (1 + (f/fc)^(2n)) of the low-pass, mirrored for the high-pass."""
    ratio = np.array([0.25, 1.0, 3.0])
    power = 1.0 / (1.0 + (ratio if kind == "lowpass" else 1.0 / ratio) ** (2 * order))
    assert np.abs(butterworth(corner * ratio, kind, order, corner)) ** 2 == approx(power, rel=1e-6)


@pytest.mark.parametrize("stage", ["high_pass_order", "band_order"])
def test_nothing_passes_at_0_hz(stage: str) -> None:
    found = made(**{stage: 2}).response(np.array([0.0, 178.0]))
    assert found[0] == 0.0
    assert abs(found[1]) > 50.0


def test_absent_filters_leave_the_gain() -> None:
    assert made(gain_bandwidth_mhz=10_000.0).response(np.array([0.0, 5.0, 500.0])) == approx(100.0, rel=1e-3)


def test_stages_share_gain_and_bandwidth() -> None:
    assert made().stage_gain() == approx(10.0)
    assert made().pole_hz() == approx(1e5)
    assert abs(made().response(np.array([1e5]))[0]) == approx(100.0 / 2.0)  # two poles, -3 dB each


def test_the_shape_of_frequencies_is_kept() -> None:
    hz = np.arange(6.0).reshape(2, 3)
    assert made(band_order=2).response(hz).shape == made().noise_v2_hz(hz, 1e3).shape == (2, 3)


def test_swing_of_a_single_supply() -> None:
    """A general-purpose op-amp at 5 V reaches 0 to 3.5 V (data sheet, from memory): rest in the middle, 1.75 V."""
    assert made().window_v() == approx((-1.75, 1.75))
    assert made(bias_v=2.5).window_v() == approx((-2.5, 1.0))


def test_swing_of_a_split_supply() -> None:
    assert made(supply="split", supply_v=10.0, swing_low_v=1.0, bias_v=0.0).window_v() == approx((-4.0, 3.5))


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"bias_v": 3.6}, "bias_v 3.6 must lie within the output swing, 0 to 3.5 V"),
        ({"bias_v": 0.0}, "bias_v 0 must lie within the output swing, 0 to 3.5 V"),
        ({"supply": "split", "bias_v": 2.0}, "bias_v 2 must lie within the output swing, -2.5 to 1 V"),
        ({"band_low_hz": 1500.0}, "band_low_hz 1500 must lie below band_high_hz 1500"),
        ({"gain": 0.5}, "greater than or equal to 1"),
        ({"low_pass_order": 9}, "less than or equal to 8"),
        ({"bias_v": float("nan")}, "finite"),
    ],
)
def test_what_cannot_be_is_refused(changed: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValidationError, match=sentence):
        made(**changed)


def test_noise_is_op_amp_and_source_through_the_circuit() -> None:
    hz = np.array([100.0, 1000.0])
    noise = made(low_pass_order=2).noise_v2_hz(hz, 2200.0)
    at_input = (40e-9) ** 2 + thermal_v2_hz(2200.0)
    assert noise == approx(at_input * np.abs(made(low_pass_order=2).response(hz)) ** 2)
    assert noise[1] < noise[0] / 10.0


# -- microphone ----------------------------------------------------------------------------------------------------


def microphone(**changed: object) -> Microphone:
    fields = {"sensitivity_db_v_pa": -44.0, "noise_db_spl": 33.0, "output_ohm": 2200.0, "lowest_hz": 20.0}
    return Microphone(**{**fields, "highest_hz": 20_000.0, **changed})


def test_corners_of_a_microphone() -> None:
    found = np.abs(microphone().response(np.array([0.0, 20.0, 632.0, 20_000.0]))) / microphone().sensitivity_v_pa()
    assert found == approx([0.0, np.sqrt(0.5), 1.0, np.sqrt(0.5)], abs=2e-3)


def test_noise_of_a_microphone_sums_to_its_level() -> None:
    """33 dB SPL are 0.893 mPa (definition)."""
    assert np.sqrt(microphone().noise_pa2_hz() * (20_000.0 - 20.0)) == approx(20e-6 * 10 ** (33 / 20), rel=1e-9)


def test_a_microphone_without_a_band_is_refused() -> None:
    with pytest.raises(ValidationError, match="lowest_hz 20000 must lie below highest_hz 20000"):
        microphone(lowest_hz=20_000.0)
