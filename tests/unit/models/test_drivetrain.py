"""The drive train as a chain: splitting a one-way turn changes nothing, and loads end where something happens."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.coupler import Twist
from models.drivetrain import Chain, chain
from models.head.gear import Head
from models.knob import Angles
from models.strings.tension import String, strung

STRING = String(
    target="E4", gauge_mm=0.254, core_mm=0.254, length_mm=648.0, total_length_mm=750.0, unit_weight_g_per_m=0.39555,
    axial_stiffness_kn=10.3, bending_stiffness_gpa=203.4, strength_mpa=2668.3, knot_factor=0.85, t60_s=5.0,
)  # fmt: skip


def built(slop_deg: float = 4.0, backlash_deg: float = 1.0, friction_nmm: float = 15.0) -> Chain:
    head = Head(
        ratio=14.0, post_radius_mm=3.0, lead_angle_deg=6.0, worm_friction=0.15, backlash_deg=backlash_deg,
        post_friction_nmm=friction_nmm, tightens="clockwise",
    )  # fmt: skip
    return chain(strung(STRING, 3.127, 329.628), head.mechanism(), Twist(slop_deg / 2.0))


@settings(max_examples=300, deadline=None)
@given(
    slop=st.floats(0.0, 20.0),
    backlash=st.floats(0.0, 5.0),
    tension=st.floats(0.5, 90.0),
    way=st.lists(st.floats(-400.0, 400.0), min_size=1, max_size=5),
    shares=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6),
)
def test_splitting_a_one_way_turn_ends_in_the_same_state(slop, backlash, tension, way, shares) -> None:
    """Play and preloaded play are rate-independent: any number of parts ends within 1e-9 of one turn."""
    train = built(slop, backlash)
    whole = parts = train.at(tension, 90.0)
    for turn in way:
        start = whole.shaft_deg
        whole = train.follow(whole, start + turn)
        for share in [*sorted(shares), 1.0]:
            parts = train.follow(parts, start + share * turn)
        assert parts == pytest.approx(tuple(whole), abs=1e-9)


@settings(max_examples=200, deadline=None)
@given(
    tension=st.floats(0.5, 100.0),
    way=st.lists(st.floats(-300.0, 300.0), max_size=4),
    direction=st.sampled_from([1, -1]),
    share=st.floats(0.01, 0.99),
)
def test_a_load_line_holds_up_to_its_room(tension, way, direction, share) -> None:
    """Torque on the line equals efficiency times string torque at the post the line leads to; post gain is constant."""
    train = built()
    angles = train.at(tension, 0.0)
    for turn in way:
        angles = train.follow(angles, angles.shaft_deg + turn)
    if max(0.0, angles.speaking_n) > train.string.breaking_n:
        return
    load = train.load(angles, direction)
    assert load.room_deg > 0.0
    turned = share * min(load.room_deg, 500.0)
    there = train.follow(angles, angles.shaft_deg + direction * turned)
    moves = abs(there.post_deg - angles.post_deg) > 1e-9
    pulls = load.torque_nm != 0.0 or load.slope_nm_per_deg != 0.0
    held_by_friction = direction < 0 and angles.post_deg <= train.slack_below_deg + 1e-9
    assert pulls or not moves or held_by_friction or max(0.0, there.speaking_n) == 0.0
    if moves and load.torque_nm:
        efficiency = train.torque_up if direction > 0 else train.torque_down
        wanted = efficiency * max(0.0, there.speaking_n) * train.string.winding_radius_m
        assert load.torque_nm + load.slope_nm_per_deg * turned == pytest.approx(wanted, rel=1e-9, abs=1e-12)
        assert abs(there.post_deg - angles.post_deg) == pytest.approx(turned / train.ratio, abs=1e-9)


def test_coupler_slop_is_lost_at_a_reversal_and_gear_backlash_is_not() -> None:
    """The string's pull holds the worm wheel on one flank; nothing preloads the coupler."""
    train = built(slop_deg=4.0, backlash_deg=1.0)
    start = train.at(70.0, 0.0)
    assert train.follow(start, -3.999).post_deg == pytest.approx(start.post_deg, abs=1e-12)
    assert train.follow(start, -4.0 - 14.0).post_deg == pytest.approx(start.post_deg - 1.0, abs=1e-9)


def test_backlash_shows_where_the_string_pulls_less_than_the_posts_friction() -> None:
    train = built(slop_deg=0.0, backlash_deg=2.0, friction_nmm=1e4)
    start = train.at(20.0, 0.0)
    assert train.follow(start, -27.9).post_deg == pytest.approx(start.post_deg, abs=1e-9)
    assert train.follow(start, -42.0).post_deg == pytest.approx(start.post_deg - 1.0, abs=1e-9)


def test_the_room_of_a_taut_string_ends_at_its_breaking_tension() -> None:
    train = built(slop_deg=0.0)
    start = train.at(70.0, 0.0)
    there = train.follow(start, train.load(start, 1).room_deg)
    assert max(0.0, there.speaking_n) == pytest.approx(train.string.breaking_n, rel=1e-12)


def test_a_new_grip_holds_the_knob() -> None:
    train = built()
    start = train.at(70.0, 90.0)
    for position in (0.0, 0.3, 1.0):
        again: Angles = train.regripped(start, 0.0, position)
        assert (again.knob_deg, again.post_deg) == (start.knob_deg, start.post_deg)
        assert train.follow(again, 0.0) == pytest.approx(tuple(again), abs=1e-9)
        assert train.load(again, 1).room_deg == pytest.approx(4.0 * (1.0 - position), abs=1e-9) or position == 1.0


def test_a_slack_string_pulls_on_nothing() -> None:
    train = replace(built(slop_deg=0.0, friction_nmm=0.0))
    slack = train.follow(train.at(1.0, 0.0), -2000.0)
    assert max(0.0, slack.speaking_n) == 0.0
    assert train.load(slack, -1).room_deg == math.inf
