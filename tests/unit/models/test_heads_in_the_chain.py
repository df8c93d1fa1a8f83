"""Every head behind every coupler: splitting changes nothing, loads are followed, friction only takes energy."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from models.coupler import Twist
from models.drivetrain import Chain, chain
from models.head.base import Mechanism
from models.knob import DEG, Angles
from models.messages import Load
from models.strings.tension import Strung
from tests.unit.models.trains import TRAINS
from tests.unit.models.trains import train as built

TENSIONS = st.floats(0.5, 90.0)
WAYS = st.lists(st.floats(-200.0, 200.0), min_size=1, max_size=4)
EVENTS = 400  # of a drive train in one turn of these tests, at most

# Row PEG1 (independent arithmetic): T0 r 0.2 N m, kappa = k r^2 0.1, kc 2 N m/rad, static 0.3, kinetic 0.24 N m
ROW_STRING = Strung(
    target_hz=330.0, stiffness_n_m=0.1 / 4e-3**2, winding_radius_m=4e-3, ea_n=1e4, mass_n_s2=1e-3, bending_n=0.0,
    breaking_n=1e3, t60_s=5.0,
)  # fmt: skip
ROW_PEG = Mechanism(1.0, 1.0, -1.0, static_nm=0.3, kinetic_nm=0.24)
ROW_COUPLING = Twist(0.0, 1.0 / (2.0 * DEG))
ROW = chain(ROW_STRING, ROW_PEG, ROW_COUPLING)


def peg_rad(train: Chain, shaft_rad: float) -> float:
    start = train.at(0.2 / 4e-3, 0.0)
    return (train.follow(start, shaft_rad / DEG).post_deg - start.post_deg) * DEG


@pytest.mark.parametrize(("shaft_rad", "turned_rad"), [(0.2499, 0.0), (0.26, 0.028571), (0.39, 0.142857)])
def test_row_peg1_through_the_chain(shaft_rad: float, turned_rad: float) -> None:
    assert peg_rad(ROW, shaft_rad) == approx(turned_rad, abs=5e-7)


def test_an_undamped_jump_is_twice_as_far() -> None:
    """1.637 and 3.274 degrees (independent arithmetic)."""
    flying = chain(ROW_STRING, ROW_PEG._replace(jump_share=2.0), ROW_COUPLING)
    assert peg_rad(ROW, 0.26) / DEG == approx(1.637, abs=5e-4)
    assert peg_rad(flying, 0.26) / DEG == approx(3.274, abs=5e-4)


def test_the_dead_zone_of_a_reversal() -> None:
    """2 ts/kc = 17.19 degrees of the shaft (independent arithmetic), and so it is when it is tried."""
    smooth = chain(ROW_STRING, ROW_PEG._replace(kinetic_nm=0.3), ROW_COUPLING)
    dead_deg = smooth.reversal_deg(50.0)
    assert dead_deg == approx(17.19, abs=0.005)
    there = smooth.follow(smooth.at(50.0, 0.0), 20.0)
    assert there.post_deg > smooth.at(50.0, 0.0).post_deg
    assert smooth.follow(there, 20.0 - dead_deg + 1e-6).post_deg == there.post_deg
    assert smooth.follow(there, 20.0 - dead_deg - 1e-6).post_deg < there.post_deg


def test_a_stiffer_coupler_makes_smaller_jumps() -> None:
    """The jump is ``(ts - tk) / (kc + kappa)``: 1.15, 1.64 and 0.34 degrees (independent arithmetic) are its sizes."""
    jumps = {kc: chain(ROW_STRING, ROW_PEG, Twist(0.0, 1.0 / (kc * DEG))) for kc in (1.0, 2.0, 10.0)}
    for kc, train in jumps.items():
        jump_rad = 0.06 / (kc + 0.1)
        assert peg_rad(train, 0.501 / kc) == approx(jump_rad, rel=1e-9)
        at_n, taken_n = 50.0, jump_rad * 0.1 / 4e-3
        wanted = 1200.0 * math.log2(ROW_STRING.first_partial_hz(at_n + taken_n) / ROW_STRING.first_partial_hz(at_n))
        assert train.slip_cents(at_n) == approx(wanted, rel=1e-9)


def test_a_peg_needs_its_friction_and_the_string_up_and_the_difference_down() -> None:
    """Torque up ts + tst, down ts - tst."""
    assert ROW.turning_nm(50.0, 1) == approx(0.3 + 0.2)
    assert ROW.turning_nm(50.0, -1) == approx(0.3 - 0.2)


def test_a_peg_let_go_stays_or_slips_back_to_kinetic_friction() -> None:
    """Of 0.4 N m on a peg that holds 0.3, 0.24 N m are left: 1.6 rad lower (independent arithmetic)."""
    held, weak = ROW.follow(ROW.at(50.0, 0.0), 20.0), ROW.follow(ROW.at(74.0, 0.0), 40.0)
    assert ROW.let_go(held) == held
    pulls_nm = weak.behind_n * 4e-3
    assert pulls_nm > 0.3
    gone = ROW.let_go(weak)
    assert gone.behind_n * 4e-3 == approx(0.24, abs=1e-12)
    assert (weak.post_deg - gone.post_deg) * DEG == approx((pulls_nm - 0.24) / 0.1)
    assert ROW.at(100.0, 0.0).behind_n * 4e-3 == approx(0.24, abs=1e-12)


def test_a_rigid_coupler_turns_a_peg_like_a_gear_of_ratio_one() -> None:
    rigid = chain(ROW_STRING, ROW_PEG, Twist(0.0))
    assert peg_rad(rigid, 0.01) == approx(0.01, rel=1e-12)
    assert rigid.load(rigid.at(50.0, 0.0), 1).torque_nm == approx(0.5)


def test_a_coupler_that_slips_leaves_the_knob_where_its_torque_is_reached() -> None:
    """A worm that needs T r / (N eta): the string rises until that is the slip torque, however far the shaft turns."""
    for compliance in (0.0, 20.0):
        train = built("worm", Twist(1.0, compliance, 0.06))
        there = train.follow(train.at(50.0, 0.0), 2000.0)
        assert train.turning_nm(there.speaking_n, 1) == approx(0.06, rel=1e-9)
        assert train.load(there, 1) == Load(0.06, 0.0, math.inf)  # and the motor turns on against that
        assert train.follow(there, 3000.0).knob_deg == there.knob_deg


def test_twist_is_lost_motion_in_proportion_to_torque() -> None:
    """At a reversal a geared head waits for slop and for the twist of both torques, up and down."""
    train = built("worm", Twist(1.5, 20.0))
    there = train.follow(train.at(70.0, 0.0), 90.0)
    lost_deg = 3.0 + train.reversal_deg(there.speaking_n)
    assert train.reversal_deg(70.0) == approx(20.0 * (train.turning_nm(70.0, 1) + train.turning_nm(70.0, -1)))
    assert train.follow(there, 90.0 - lost_deg + 1e-6).knob_deg == there.knob_deg
    assert train.follow(there, 90.0 - lost_deg - 1e-6).knob_deg < there.knob_deg


@settings(max_examples=300, deadline=None)
@given(train=TRAINS, tension=TENSIONS, way=WAYS, shares=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6))
def test_splitting_a_one_way_turn_ends_in_the_same_state(train, tension, way, shares) -> None:
    """To 1e-9; on a threshold within 1e-9 at most one slip apart, which is where this test looks away."""
    whole = parts = train.at(tension, 90.0)
    for turn in way:
        start = whole.shaft_deg
        whole = train.follow(whole, start + turn)
        for share in [*sorted(shares), 1.0]:
            parts = train.follow(parts, start + share * turn)
        if on_threshold(train, whole) or on_threshold(train, parts):
            return
        assert parts == approx(tuple(whole), abs=1e-9, rel=1e-11)


def on_threshold(train: Chain, angles: Angles) -> bool:
    """Return whether a slip is due within rounding, of the head or of the nut."""
    near = 1e-8
    nearby = [train.follow(angles, angles.shaft_deg + by) for by in (near, -near)]
    return any(abs(each.behind_n - angles.behind_n) > 1e-6 for each in nearby)


def energy_j(train: Chain, angles: Angles) -> float:
    """Return what string and coupler have stored: T^2/2k of each segment and the twist's M^2/2kc."""
    segments = [(angles.speaking_n, train.string.stiffness_n_m)]
    if train.friction is not None:
        stiff = train.friction
        segments = [(angles.behind_n, stiff.behind_n_m), (angles.speaking_n, stiff.speaking_n_m)]
        segments += [(angles.after_n, stiff.after_n_m)] if stiff.after_n_m else []
    stored = sum(max(0.0, tension) ** 2 / (2.0 * stiffness) for tension, stiffness in segments)
    if train.twist is None:
        return stored
    twist_nm = train.twist.torque_nm(angles.shaft_deg + angles.grip_deg - angles.knob_deg)
    return stored + twist_nm**2 * train.twist.compliance_deg_per_nm * DEG / 2.0


def worked(train: Chain, angles: Angles, shaft_deg: float) -> tuple[float, Angles]:
    """Return the work of a shaft that follows the load lines to an angle, and where that leads."""
    work_j, direction = 0.0, 1 if shaft_deg > angles.shaft_deg else -1
    for _ in range(EVENTS):
        left = direction * (shaft_deg - angles.shaft_deg)
        if left <= 0.0 or train.broken(angles):
            return work_j, angles
        load = train.load(angles, direction)
        assert load.room_deg > 0.0
        turned = min(left, load.room_deg)
        work_j += (load.torque_nm + load.slope_nm_per_deg * turned / 2.0) * turned * DEG
        angles = train.follow(angles, shaft_deg if turned == left else angles.shaft_deg + direction * turned)
    raise AssertionError("too many events on the way")


@settings(max_examples=300, deadline=None)
@given(train=TRAINS, tension=st.floats(0.5, 70.0), way=WAYS)
def test_passive_parts_create_no_energy(train, tension, way) -> None:
    """What the shaft puts in is at least what string and coupler store; over a closed turn of the shaft as well."""
    angles = start = train.at(tension, 0.0)
    work_j = 0.0
    for shaft_deg in [*way, 0.0]:
        done_j, angles = worked(train, angles, shaft_deg)
        work_j += done_j
        assert work_j >= energy_j(train, angles) - energy_j(train, start) - 1e-9
        if train.broken(angles):
            return


@settings(max_examples=200, deadline=None)
@given(train=TRAINS, tension=TENSIONS, way=WAYS, position=st.floats(0.0, 1.0))
def test_let_go_a_head_is_quiet(train, tension, way, position) -> None:
    """After a re-grip the coupler has no torque, and letting go again changes nothing more."""
    angles = train.at(tension, 0.0)
    for shaft_deg in way:
        angles = train.follow(angles, shaft_deg)
    again = train.regripped(angles, 0.0, position)
    assert again.behind_n <= angles.behind_n + 1e-9
    assert abs(again.shaft_deg + again.grip_deg - again.knob_deg) <= train.half_slop_deg + 1e-9
    assert train.let_go(again) == again


def test_chains_of_locking_heads_give_no_work_back() -> None:
    """A closed turn of the shaft costs work wherever it starts."""
    for name in ("worm", "peg", "adjuster"):
        train = built(name, Twist(1.0, 10.0))
        angles = train.at(60.0, 0.0)
        for first in (40.0, -40.0):
            out_j, there = worked(train, angles, first)
            back_j, _ = worked(train, there, 0.0)
            assert out_j + back_j >= 0.0
