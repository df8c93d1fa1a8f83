"""The study of a circuit: preferred values, textbook stages against network equations, levels, folds, words."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from models.hearing.converter import Converter
from models.hearing.front_end import FrontEnd, butterworth
from models.hearing.microphone import Microphone
from models.strings.vibration import effective_ratio
from models.units import note_hz
from sim.cli.screen import Screen
from sim.hearing.circuit import CircuitStudy, study
from sim.hearing.preferred import E12, E24, at_least, nearest
from sim.hearing.stages import amplifier, chain, high_pass, low_pass, qualities, sections, single_pole
from sim.hearing.tolerances import GATE_CENTS, Corner
from sim.views.circuit import advice, tables

TARGETS = {name: note_hz(name) for name in ("E2", "A2", "D3", "G3", "B3", "E4")}
STIFF = dict(zip(TARGETS, (1.1e-4, 6e-5, 3e-5, 1e-4, 5e-5, 2e-5), strict=True))  # invented, of a steel guitar's size
FRONT_END = {
    "gain": 200.0, "stages": 2, "gain_bandwidth_mhz": 1.0, "supply_v": 5.0, "supply": "single", "swing_low_v": 0.0,
    "swing_high_v": 1.5, "bias_v": 1.75, "high_pass_hz": 30.0, "high_pass_order": 1, "band_low_hz": 30.0,
    "band_high_hz": 1500.0, "band_order": 0, "low_pass_hz": 400.0, "low_pass_order": 2, "input_noise_nv_rthz": 40.0,
}  # fmt: skip
CONVERTER = {
    "rate_hz": 1024.0, "bits": 10, "reference_v": 5.0, "clock_ppm": 0.0, "jitter_us": 0.0, "conversion_cycles": 13.0,
    "converter_clock_khz": 125.0, "nonlinearity_steps": 0.5,
}  # fmt: skip
MICROPHONE = Microphone(
    sensitivity_db_v_pa=-44.0, noise_db_spl=33.0, output_ohm=2200.0, lowest_hz=20.0, highest_hz=20_000.0
)


def front_end(**changed: Any) -> FrontEnd:
    return FrontEnd(**{**FRONT_END, **changed})


def studied(level: float = 70.0, targets: dict[str, float] = TARGETS, **changed: Any) -> CircuitStudy:
    circuit = {key: value for key, value in changed.items() if key in FRONT_END}
    sampling = {key: value for key, value in changed.items() if key in CONVERTER}
    converter = Converter(**{**CONVERTER, **sampling})
    return study(MICROPHONE, front_end(**circuit), converter, level, targets, {**STIFF, "E5": 1e-5})


# -- preferred values ----------------------------------------------------------------------------------------------


def test_series_are_geometric_to_their_printed_rounding() -> None:
    """IEC 60063: 24 and 12 values a decade; the published ones differ from 10^(k/24) by up to 5 %; E12 is in E24."""
    assert [len(E24), len(E12)] == [24, 12]
    assert tuple(10.0 ** (k / 24.0) for k in range(24)) == approx(E24, rel=0.05)
    assert set(E12) <= set(E24)


@given(st.floats(1e-12, 1e7))
def test_the_nearest_value_is_within_half_a_step(value: float) -> None:
    """The widest gap of E24 is 1.5 / 1.3, so that half of it is 7.5 %; that of E12 is 1.5 / 1.2."""
    assert nearest(value, E24) == approx(value, rel=0.075)
    assert value * (1.0 - 1e-8) <= at_least(value, E12) <= 1.2501 * value


def test_a_preferred_value_is_its_own_nearest() -> None:
    assert [nearest(4.7e-9 * 10**k, E12) for k in range(4)] == approx([4.7e-9 * 10**k for k in range(4)])
    assert at_least(4.7e-9, E12) == approx(4.7e-9)


# -- textbook stages -----------------------------------------------------------------------------------------------


def nodal_gain(kind: str, p: dict[str, float], hz: float) -> complex:
    """Solve Kirchhoff's current law of a unity-gain Sallen-Key section at its middle and at the follower's input."""
    s = 2j * math.pi * hz
    if kind == "low-pass":
        first, second, feedback, ground = 1 / p["R1"], 1 / p["R2"], s * p["C1"], s * p["C2"]
    else:
        first, second, feedback, ground = s * p["C1"], s * p["C2"], 1 / p["R1"], 1 / p["R2"]
    matrix = [[first + second + feedback, -second - feedback], [-second, second + ground]]
    return complex(np.linalg.solve(matrix, [first, 0.0])[1])


@pytest.mark.parametrize("make", [low_pass, high_pass])
@pytest.mark.parametrize("hz", [30.0, 390.0, 1500.0])
def test_sections_obey_the_network_equations(make: Any, hz: float) -> None:
    """Sallen & Key 1955, by nodal analysis (independent arithmetic)."""
    section = make(400.0, 1.3)
    assert section.response(section.bought, np.array([hz]))[0] == approx(
        nodal_gain(section.shape, dict(section.bought), hz), rel=1e-9
    )


@settings(deadline=None)  # the first call imports scipy.signal
@given(st.integers(1, 8), st.floats(5.0, 5e3), st.sampled_from(["low-pass", "high-pass"]))
def test_reckoned_sections_are_a_butterworth_filter(order: int, hz: float, shape: Any) -> None:
    """scipy.signal.butter as independent library."""
    at = hz * np.array([0.3, 1.0, 2.0])
    gain = np.prod([section.response(section.exact, at) for section in sections(shape, order, hz)], axis=0)
    assert gain == approx(butterworth(at, shape.replace("-", ""), order, hz), rel=1e-6)


def test_qualities_of_a_fourth_order_filter() -> None:
    """Butterworth tables, from memory: 0.541 and 1.307."""
    assert qualities(4) == approx([0.5412, 1.3066], abs=1e-4)


@given(st.floats(5.0, 5e3), st.floats(0.5, 3.0))
def test_preferred_values_come_near_the_corner(hz: float, quality: float) -> None:
    """Resistors are off by at most 6.1 %, so that the corner is too; the quality may err by twice that."""
    for section in (low_pass(hz, quality), high_pass(hz, quality)):
        assert section.corner_hz(section.bought) == approx(hz, rel=0.062)
        assert section.quality(section.bought) == approx(quality, rel=0.125)
    assert single_pole("high-pass", hz).corner_hz(single_pole("high-pass", hz).bought) == approx(hz, rel=0.062)


@given(st.floats(1.001, 2000.0))
def test_a_pair_of_resistors_meets_the_gain(gain: float) -> None:
    """The smallest ratio of two values of E24 is 1.6 / 1.5, half of which is 3.3 %."""
    stage = amplifier("gain", gain, 1e6)
    assert stage.gain(stage.bought) == approx(gain, rel=0.034)


def test_a_gain_of_one_needs_no_resistors() -> None:
    follower = amplifier("gain", 1.0, 1e6)
    assert follower.bought == {}
    assert abs(follower.response({}, np.array([1e6]))[0]) == approx(math.sqrt(0.5))


def test_a_band_pass_is_built_as_a_high_pass_and_a_low_pass() -> None:
    """Half a decibel from the four-pole band-pass of scipy.signal over a band of fifty to one."""
    rig = front_end(high_pass_order=0, low_pass_order=0, band_order=2)
    hz = np.geomspace(30.0, 1500.0, 20)
    built = np.prod([stage.response(stage.exact, hz) for stage in chain(rig)], axis=0)
    assert 20.0 * np.log10(np.abs(built / rig.response(hz))) == approx(np.zeros(20), abs=0.5)


# -- the study -----------------------------------------------------------------------------------------------------


def test_levels_multiply_up() -> None:
    for level in studied().levels:
        assert level.converter_v == approx(level.microphone_v * level.total_gain)
        assert level.steps == approx(level.converter_v / (5.0 / 1024.0))
        assert level.stage_gain == approx(math.sqrt(200.0), rel=1e-3)


def test_six_more_decibels_of_sound_take_six_of_room() -> None:
    quiet, loud = studied(level=60.0).levels[0], studied(level=66.0).levels[0]
    assert quiet.room_db - loud.room_db == approx(6.0)


def test_bias_in_the_middle_of_the_supply_loses_headroom() -> None:
    """A general-purpose op-amp at 5 V swings 0 to 3.5 V: at 2.5 V 1.0 V is left, 20 log10(1.75) = 4.86 dB lost."""
    swing = studied(bias_v=2.5).swing
    assert (swing.up_v, swing.down_v, swing.middle_v) == approx((1.0, 2.5, 1.75))
    assert swing.lost_db == approx(4.86, abs=0.01)
    assert studied().swing.lost_db == approx(0.0)


def test_the_converter_ends_the_swing_too() -> None:
    swing = studied(reference_v=2.5).swing
    assert (swing.up_v, swing.down_v) == approx((0.75, 1.75))


def test_bandwidth_of_all_stages_counts() -> None:
    """One-pole law: two stages whose poles lie at the edge lose 3.01 dB each."""
    band = studied(gain=1e4, gain_bandwidth_mhz=0.04).bandwidth
    assert band.pole_hz == approx(band.edge_hz) == approx(400.0)
    assert band.loss_db == approx(2 * 3.0103, abs=1e-3)


def test_second_partial_of_a_high_e_folds_without_a_filter() -> None:
    """Sampling theorem: 659.3 Hz at 1024/s shows at 364.7 Hz, 175 cents above E4; half as strong as partial 1."""
    alias = {alias.string: alias for alias in studied(low_pass_order=0).aliases}["E4"]
    assert (alias.partial, alias.folded_hz, alias.off_cents) == (2, approx(364.7, abs=0.1), approx(175.2, abs=0.3))
    assert alias.level_db == approx(-20.0 * math.log10(2.0), abs=0.1)
    filtered = {alias.string: alias for alias in studied(low_pass_hz=300.0, low_pass_order=4).aliases}["E4"]
    assert filtered.level_db < -20.0


def test_folds_lie_inside_the_search_range_and_above_half_the_rate() -> None:
    for alias in studied(low_pass_order=0).aliases:
        assert alias.true_hz > 512.0 >= alias.folded_hz
        assert abs(alias.off_cents) <= GATE_CENTS


def test_part_tolerances_move_an_rc_corner_by_their_sum_at_most() -> None:
    """1/(RC) with R 1 % and C 10 %: 95 % of an even spread of C alone lie within 9.5 %, all within 12.3 %."""
    corner: Corner = studied().corners[0]
    assert corner.stage == "1 RC high-pass"
    assert corner.low / corner.built == approx(1.0 / 1.095, abs=0.01)
    assert corner.high / corner.built == approx(1.0 / 0.905, abs=0.01)


def test_period_through_a_flat_circuit_is_that_of_the_string() -> None:
    """The project's own law of the effective pitch, over the same partials (Fletcher 1964)."""
    flat = studied(high_pass_order=0, low_pass_order=0, rate_hz=8000.0, gain=1.0)
    for scatter in flat.scatters:
        ratio = effective_ratio(STIFF[scatter.string])
        assert scatter.effective_cents == approx(1200.0 * math.log2(ratio), rel=0.03)
        assert scatter.change_cents < 0.001


def test_a_low_pass_brings_the_period_nearer_to_partial_1() -> None:
    high, low = studied(rate_hz=8000.0, low_pass_hz=3000.0), studied(rate_hz=8000.0, low_pass_hz=200.0)
    for above, below in zip(high.scatters, low.scatters, strict=True):
        assert 0.0 < below.effective_cents < above.effective_cents
        assert below.change_cents > 0.0


def test_delay_is_that_of_the_filters() -> None:
    """First-order low-pass: tau / (1 + (w tau)^2) beside what op-amps and microphone add (independent arithmetic)."""
    found = studied(high_pass_order=0, low_pass_order=1, gain=1.0)
    bare = studied(high_pass_order=0, low_pass_order=0, gain=1.0)
    for level, without in zip(found.levels, bare.levels, strict=True):
        tau = 1.0 / (2.0 * math.pi * 400.0)
        wanted = 1e3 * tau / (1.0 + (level.target_hz / 400.0) ** 2)
        assert level.delay_ms - without.delay_ms == approx(wanted, rel=1e-3)


def test_noise_of_a_microphone_through_a_flat_gain() -> None:
    """33 dB SPL are 0.893 mPa; at 6.31 mV/Pa, x200 and 4.88 mV a step 0.231 steps, less what the edges take."""
    noise = studied(high_pass_order=0, low_pass_order=0, gain_bandwidth_mhz=1000.0).noise
    assert 0.85 * 0.231 < noise.microphone_steps < 0.231
    assert noise.rounding_steps == approx(0.2887, abs=1e-4)


def test_a_study_repeats() -> None:
    assert studied() == studied()


# -- words ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"bias_v": 2.5}, "1.00 V above and 2.50 V below: 4.9 dB lost"),
        ({"bias_v": 2.5}, "1.75 V is the middle of the swing"),
        ({"supply": "split", "supply_v": 10.0, "bias_v": 0.0}, "leaves the converter half of every wave"),
        ({"low_pass_order": 0}, "Partial 2 of E4 folds to 364.7 Hz, +175 cents"),
        ({"low_pass_order": 0}, "readings go wrong; a low-pass, which is missing,"),
        ({"low_pass_hz": 300.0, "low_pass_order": 4}, "harmless"),
        ({"rate_hz": 600.0}, "E4 cannot be heard at 600 samples/s"),
        ({"level": 100.0}, "clips at 100 dB SPL. Multiply the gain by 0."),
        ({"level": 40.0}, "steps of the 8 that a good reading needs. Multiply the gain by"),
        ({"level": 40.0, "bits": 6}, "take a converter with more bits"),
        ({"gain": 1000.0, "stages": 1, "gain_bandwidth_mhz": 0.4}, "share the gain among more stages"),
        ({}, "A filter that stands still moves no frequency"),
        ({}, "most of it from rounding to steps"),
    ],
)
def test_advice_names_what_is_wrong_with_numbers(changed: dict[str, Any], words: str) -> None:
    assert words in " ".join(advice(studied(**changed)))


def test_advice_is_short() -> None:
    assert 3 <= len(advice(studied())) <= 6


def test_tables_fit_80_columns(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    found = tables(studied(low_pass_order=5, high_pass_order=3, level=109.5, gain=333.3))
    for table in found:
        Screen("never", quiet=True).table(table)
    printed = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in printed) <= 80
    assert sum(len(table.rows) for table in found) + 5 <= len(printed) <= sum(len(table.rows) for table in found) + 25


def test_parts_are_printed_as_one_buys_them() -> None:
    """43 kohm and 120 nF make the 30 Hz of the default: 1 / (2 pi R C) = 30.8 Hz (independent arithmetic)."""
    rows = {(row[0], row[1]): row[3] for row in tables(studied())[1].rows}
    assert (rows["1 RC high-pass", "R1"], rows["1 RC high-pass", "C1"]) == ("43 kohm", "120 nF")
    assert 1.0 / (2.0 * math.pi * 43e3 * 120e-9) == approx(studied().corners[0].built)


def test_what_no_string_does_has_no_table() -> None:
    high = studied(targets={"E5": note_hz("E5")}, rate_hz=9000.0, low_pass_order=0)
    titles = [table.title for table in tables(high)]
    assert bool(high.aliases) == any("folds" in title for title in titles)
