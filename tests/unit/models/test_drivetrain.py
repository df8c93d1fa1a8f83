"""The drive train as a whole: splitting a turn changes nothing, and its load line is the torque of its own motion."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pytest import approx

from models.drivetrain import Angles, Chain, chain
from models.head.gear import Head
from models.strings.tension import String, strung

STRING = String(
    target="E2",
    gauge_mm=1.35,
    core_mm=0.46,
    length_mm=648.0,
    total_length_mm=760.0,
    unit_weight_g_per_m=10.17,
    axial_stiffness_kn=32.0,
    bending_stiffness_gpa=200.0,
    strength_mpa=2450.0,
    knot_factor=0.85,
    t60_s=8.0,
)
RADIUS_MM = 3.0


@st.composite
def chains(draw: st.DrawFn) -> Chain:
    head = Head(
        ratio=draw(st.floats(4.0, 40.0)),
        post_radius_mm=RADIUS_MM,
        lead_angle_deg=draw(st.floats(3.0, 12.0)),
        worm_friction=draw(st.floats(0.05, 0.25)),
        backlash_deg=draw(st.just(0.0) | st.floats(0.1, 3.0)),
        post_friction_nmm=draw(st.just(0.0) | st.floats(1.0, 60.0)),
        tightens="clockwise",
    )
    return chain(strung(STRING, RADIUS_MM, 82.41), head, draw(st.just(0.0) | st.floats(0.1, 10.0)))


@st.composite
def stands(draw: st.DrawFn) -> tuple[Chain, Angles]:
    """Return a drive train after a few turns, so that every slop may stand anywhere."""
    built = draw(chains())
    angles = built.at(draw(st.floats(0.0, 200.0)), 90.0)
    for turn in draw(st.lists(st.floats(-40.0, 40.0), max_size=3)):
        angles = built.follow(angles, angles.shaft_deg + turn)
    return built, angles


@given(stand=stands(), turn=st.floats(-400.0, 400.0), cuts=st.lists(st.floats(0.0, 1.0), max_size=15))
def test_splitting_a_turn_changes_nothing(stand: tuple[Chain, Angles], turn: float, cuts: list[float]) -> None:
    built, angles = stand
    whole = built.follow(angles, angles.shaft_deg + turn)
    parts = angles
    for cut in [*sorted(cuts), 1.0]:
        parts = built.follow(parts, angles.shaft_deg + cut * turn)
    assert parts.knob_deg == approx(whole.knob_deg, abs=1e-9)
    assert parts.post_deg == approx(whole.post_deg, abs=1e-9)


@pytest.mark.parametrize("direction", [1, -1])
@given(stand=stands(), share=st.floats(0.0, 0.999))
def test_the_load_is_the_torque_of_the_string_through_the_worm(
    stand: tuple[Chain, Angles], share: float, direction: int
) -> None:
    """Up to the next event ``torque(x)`` is the worm's share of ``T r`` where the post then is, or 0 in slop."""
    built, angles = stand
    load = built.load(angles, direction)
    turned = share * min(load.room_deg, 50.0)
    after = built.follow(angles, angles.shaft_deg + direction * turned)
    torque = load.torque_nm + load.slope_nm_per_deg * turned
    if abs(after.post_deg - angles.post_deg) < 1e-9 or after.post_deg <= 0.0:
        assert torque == approx(0.0, abs=1e-12) or turned < 1e-6
    else:
        worm = built.torque_up if direction > 0 else built.torque_down
        assert torque == approx(worm * built.tension_n(after.post_deg) * built.string.winding_radius_m, abs=1e-9)


@given(stand=stands())
def test_there_is_always_room_to_the_next_event(stand: tuple[Chain, Angles]) -> None:
    built, angles = stand
    assume(angles.post_deg < built.breaking_deg - 1.0)
    assert built.load(angles, 1).room_deg > 0.0
    assert built.load(angles, -1).room_deg > 0.0


@given(built=chains(), pull_n=st.floats(0.0, 200.0))
def test_a_string_tightened_last_answers_at_once(built: Chain, pull_n: float) -> None:
    """All slop is taken up: ``at`` gives the tension back, and one degree more turns the post by ``1 / ratio``."""
    angles = built.at(pull_n, 90.0)
    assert built.tension_n(angles.post_deg) == approx(pull_n, abs=1e-9)
    assert built.follow(angles, 91.0).post_deg - angles.post_deg == approx(1.0 / built.ratio, abs=1e-9)


@given(built=chains(), pull_n=st.floats(60.0, 200.0))
def test_at_a_reversal_the_coupler_loses_its_whole_slop_and_the_gear_nothing(built: Chain, pull_n: float) -> None:
    angles = built.at(pull_n, 90.0)
    slop = 2 * built.half_slop_deg
    assert built.follow(angles, 90.0 - slop).post_deg == approx(angles.post_deg, abs=1e-9)
    assert angles.post_deg - built.follow(angles, 90.0 - slop - 1.0).post_deg == approx(1.0 / built.ratio, abs=1e-9)


@given(stand=stands(), uniform=st.floats(0.0, 1.0), shaft=st.floats(0.0, 180.0))
def test_a_new_grip_holds_the_knob_and_keeps_the_slop(
    stand: tuple[Chain, Angles], uniform: float, shaft: float
) -> None:
    built, angles = stand
    gripped = built.regripped(angles, shaft, uniform)
    assert (gripped.knob_deg, gripped.post_deg) == (angles.knob_deg, angles.post_deg)
    assert built.follow(gripped, shaft).knob_deg == approx(angles.knob_deg, abs=1e-9)
    reach = [built.load(gripped, way).room_deg for way in (1, -1) if built.load(gripped, way).torque_nm == 0.0]
    assert all(room > 0.0 or math.isinf(room) for room in reach)
