"""Friction, pegs and temperature against numbers from outside, each with its source."""

import math

import pytest
from pytest import approx

from models.head.nut import capstan, equal, friction, room_m, wind
from models.strings.climate import Climate
from scenarios.library import part
from tests.unit.models.test_friction_peg import peg
from tests.unit.models.test_nut import nut

CENTS_PER_LOG_TENSION = 600.0 / math.log(2.0)  # Mersenne: pitch goes with the root of tension


@pytest.mark.parametrize(("coefficient", "turns", "ratio", "rounding"), [(0.6, 5, 153552935, 1.0), (0.3, 1, 6.6, 0.05)])
def test_capstan(coefficient: float, turns: int, ratio: float, rounding: float) -> None:
    """Published: five turns at 0.6 hold 153,552,935 to 1 (Wikipedia, Capstan equation); one at 0.3 6.6 to 1."""
    assert capstan(coefficient, turns * 360.0) == approx(ratio, abs=rounding)


def test_pitch_across_a_nut_that_is_about_to_slip() -> None:
    """600 mu phi/ln 2 = 35.96 cents at mu 0.17 (Groves & Kemp 2019) and 14 degrees (independent arithmetic)."""
    held = friction(nut(friction=0.17, wrap_deg=14.0, kinetic_share=0.9), 1e4, 0.648, 0.708)
    assert held is not None
    at_slip = wind(equal(70.0), room_m(equal(70.0), held, 1) * (1.0 - 1e-12), held)
    assert at_slip.speaking_n == 70.0
    assert CENTS_PER_LOG_TENSION * math.log(at_slip.behind_n / at_slip.speaking_n) == approx(35.95672, abs=1e-5)


def test_dead_winding_between_slips_up_and_down() -> None:
    """``L T 2 sinh(mu phi)/EA``: for mu 0.12, 14 degrees, 60 mm of steel 0.305 mm about 0.025 mm (independent)."""
    ea_n, tension_n = 14_800.0, 104.0
    held = friction(nut(friction=0.12, wrap_deg=14.0, kinetic_share=1.0), ea_n, 0.648, 0.708)
    assert held is not None
    slipping = equal(tension_n)._replace(behind_n=tension_n * held.nut_static)
    wanted_m = 0.060 * tension_n * 2.0 * math.sinh(0.12 * math.radians(14.0)) / ea_n
    assert room_m(slipping, held, -1) == approx(wanted_m, rel=1e-12)
    assert wanted_m == approx(0.025e-3, abs=0.0005e-3)


def test_strings_on_a_steel_saddle_stay_below_the_published_bound() -> None:
    """Groves & Kemp, Archives of Acoustics 2019: plain below 0.17, nickel-wound below 0.26, on steel."""
    values = part("nut", "steel-saddle").values
    assert values["saddle_friction"].value.high <= 0.26


def test_violin_taper() -> None:
    """1:30 is a half angle of 0.955 degrees (taper after Wikipedia, Tuning peg); it stays in above mu 0.017."""
    assert peg().half_angle_deg() == approx(0.955, abs=5e-4)
    assert peg(taper=25.0).half_angle_deg() > peg().half_angle_deg()
    assert peg(friction=0.0168).stays_in()
    assert not peg(friction=0.0166).stays_in()


def test_a_peg_holds_as_a_cone_clutch() -> None:
    """Shigley, cone clutch: ``F = N (sin a + f cos a)`` engages it at rest, torque ``f N r``; cylinder: ``F r``."""
    half = math.atan(1.0 / 60.0)
    pressed_n = 60.0 / (math.sin(half) + 0.3 * math.cos(half))
    assert peg().wall_force_n() == approx(pressed_n)
    assert peg().static_nm() == approx(0.3 * pressed_n * 3.9e-3)
    slim = peg(taper=60.0, friction=1.0)
    assert slim.static_nm() == approx(60.0 * 3.9e-3, rel=0.01)


def test_a_steel_string_on_a_wooden_neck_falls_by_a_cent_per_kelvin() -> None:
    """-(600/ln 2) (EA/T) (alpha_s - alpha_b) = -0.99 cents/K: EA/T 142.9, steel 12 and wood 4 ppm/K (tables)."""
    warmer = Climate(
        string_change_k=1.0, body_change_k=1.0, string_expansion_ppm_k=12.0, body_expansion_ppm_k=4.0,
        string_pace_s=1.0, body_pace_s=1.0,
    )  # fmt: skip
    assert CENTS_PER_LOG_TENSION * 142.9 * warmer.strain(1e3) == approx(-0.99, abs=0.005)
