"""A string on its post: rows of independent arithmetic, inverses, and the slope of pitch over angle."""

import math
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.strings.material import breaking_tension_n
from models.strings.tension import String, Strung, strung
from models.strings.vibration import frequency_hz, tension_n
from models.strings.winding import area_mm2, plain_unit_weight_g_per_m
from models.units import cents, shifted

TARGET_HZ, LENGTH_M, TOTAL_M, RADIUS_M = 329.628, 0.648, 0.75, 0.003
EA_N = 200e3 * area_mm2(0.254)
UNIT_WEIGHT_KG_M = plain_unit_weight_g_per_m(0.254, 7850.0) * 1e-3
NEVER_THINS_N = 1e10  # the rows leave out that a stretched string thins
DEG = math.pi / 180.0

THICK = Strung(
    target_hz=TARGET_HZ,
    stiffness_n_m=EA_N / TOTAL_M,
    winding_radius_m=RADIUS_M,
    ea_n=NEVER_THINS_N,
    mass_n_s2=4 * LENGTH_M**2 * UNIT_WEIGHT_KG_M,
    bending_n=0.0,
    breaking_n=116.289,
    t60_s=5.0,
)
HIGH_E = String(
    target="E4",
    gauge_mm=0.254,
    core_mm=0.254,
    length_mm=648.0,
    total_length_mm=750.0,
    unit_weight_g_per_m=UNIT_WEIGHT_KG_M * 1e3,
    axial_stiffness_kn=EA_N / 1e3,
    bending_stiffness_gpa=200.0,
    strength_mpa=2668.3,
    knot_factor=0.86,
    t60_s=5.0,
)


def degrees(string: Strung, newtons: float) -> float:
    """Return the post's angle since slack."""
    return newtons / (string.stiffness_n_m * string.winding_radius_m * DEG)


def test_row_str1() -> None:
    """Steel 0.254 mm, 7850 kg/m3, 200 GPa, post 3 mm, 329.628 Hz (independent arithmetic)."""
    pull_n = THICK.tension_at_hz(TARGET_HZ)
    assert pull_n == approx(72.591, abs=5e-4)
    assert pull_n / area_mm2(0.254) == approx(1432.61, abs=0.01)
    assert THICK.stiffness_n_m == approx(13512.2, abs=0.05)
    assert THICK.cents_per_post_degree(pull_n) == approx(8.4366, abs=5e-5)


def test_row_str2() -> None:
    """From 100 cents flat: +11.1941 degrees of the post by the exact inverse (independent arithmetic)."""
    flat_n, pull_n = (THICK.tension_at_hz(shifted(TARGET_HZ, by)) for by in (-100.0, 0.0))
    assert degrees(THICK, pull_n) - degrees(THICK, flat_n) == approx(11.1941, abs=5e-5)
    assert 100.0 / THICK.cents_per_post_degree(pull_n) == approx(11.8532, abs=1e-4)


def test_row_str3() -> None:
    """Breaking at 116.289 N: +407.91 cents and +61.764 degrees of the post (independent arithmetic)."""
    assert THICK.reserve_cents() == approx(407.91, abs=0.005)
    reserve_deg = degrees(THICK, THICK.breaking_n) - degrees(THICK, THICK.tension_at_hz(TARGET_HZ))
    assert reserve_deg == approx(61.764, abs=1e-3)


def test_a_string_is_taken_up_at_the_radius_of_its_head() -> None:
    assert strung(HIGH_E, 3.127, TARGET_HZ).winding_radius_m == approx(0.003127, rel=1e-12)


def test_breaking_tension_counts_the_core_and_the_knot() -> None:
    """2668.3 MPa (ASTM A228 minimum at .010 in) times 0.86: the 116.29 N of row STR3, to rounding."""
    found = strung(HIGH_E, 3.0, TARGET_HZ).breaking_n
    assert found == breaking_tension_n(2668.3, 0.86, area_mm2(0.254))
    assert found == approx(116.289, abs=0.05)


def test_the_given_unit_weight_holds_at_the_target() -> None:
    """Without stiffness the tension at pitch is Mersenne's for the unit weight as given."""
    built = strung(replace(HIGH_E, bending_stiffness_gpa=0.0), 3.0, TARGET_HZ)
    pull_n = tension_n(TARGET_HZ, UNIT_WEIGHT_KG_M, LENGTH_M)
    assert built.tension_at_hz(TARGET_HZ) == approx(pull_n, rel=1e-12)
    assert built.first_partial_hz(pull_n) == approx(frequency_hz(pull_n, UNIT_WEIGHT_KG_M, LENGTH_M), rel=1e-12)


def test_thinning_adds_its_share_to_the_slope() -> None:
    """``d ln f / dT = (1/T + 1/(EA + T)) / 2``: one part in ``(EA + T)/T`` more than without."""
    thinning = replace(THICK, ea_n=EA_N, mass_n_s2=THICK.mass_n_s2 * (1 + 72.591 / EA_N))
    more = thinning.cents_per_post_degree(72.591) / THICK.cents_per_post_degree(72.591) - 1.0
    assert more == approx(72.591 / (EA_N + 72.591), rel=1e-5)


STRINGS = st.builds(
    lambda gauge, length, ea, pitch: strung(
        replace(
            HIGH_E,
            gauge_mm=gauge,
            core_mm=gauge,
            length_mm=length,
            total_length_mm=1.15 * length,
            axial_stiffness_kn=ea,
            unit_weight_g_per_m=plain_unit_weight_g_per_m(gauge, 7850.0),
        ),
        3.0,
        pitch,
    ),
    gauge=st.floats(0.2, 0.6),
    length=st.floats(300.0, 900.0),
    ea=st.floats(0.5, 60.0),
    pitch=st.floats(60.0, 700.0),
)


@given(string=STRINGS, by=st.floats(-300.0, 300.0))
def test_tension_and_pitch_undo_each_other(string: Strung, by: float) -> None:
    wanted_hz = shifted(string.target_hz, by)
    pull_n = string.tension_at_hz(wanted_hz)
    if pull_n > 0.0:
        assert string.first_partial_hz(pull_n) == approx(wanted_hz, rel=1e-9)


@given(string=STRINGS)
def test_the_slope_is_the_derivative_of_pitch(string: Strung) -> None:
    """A central difference of 1e-4 of the tension against the closed form."""
    pull_n = string.tension_at_hz(string.target_hz)
    if pull_n < 0.5:
        return
    step_n = 1e-4 * pull_n
    up_hz, down_hz = string.first_partial_hz(pull_n + step_n), string.first_partial_hz(pull_n - step_n)
    turned = 2 * degrees(string, step_n)
    assert cents(up_hz, down_hz) / turned == approx(string.cents_per_post_degree(pull_n), rel=1e-6)


@given(string=STRINGS, more=st.floats(0.1, 50.0))
def test_a_tighter_string_is_sharper_and_less_inharmonic(string: Strung, more: float) -> None:
    pull_n = max(1.0, string.tension_at_hz(string.target_hz))
    assert string.first_partial_hz(pull_n + more) > string.first_partial_hz(pull_n)
    spread = [string.effective_hz(at) / string.first_partial_hz(at) for at in (pull_n, pull_n + more)]
    assert spread[0] > spread[1] > 1.0
    assert string.tension_n(-0.001) == 0.0


def test_a_string_too_stiff_for_its_pitch_is_slack_there() -> None:
    assert replace(THICK, bending_n=1e6).tension_at_hz(TARGET_HZ) == 0.0
