"""The friction peg: sticks, jumps, holds or slips back; the order of its cycle."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.head.friction_peg import FrictionPeg, Hold, Pull, cycle, dead_zone_deg, holds, let_go, turn

DEG = math.pi / 180.0
ROW = Hold(0.3, 0.24, 2.0 * DEG, 1.0)
STRING = Pull(0.2, 0.1 * DEG)
NUMBER = st.floats(0.0, 1.0)
PEGS = st.builds(
    lambda static, share, coupling, jump: Hold(static, share * static, coupling * DEG, jump),
    st.floats(0.05, 1.0), st.sampled_from([0.6, 0.8, 1.0]), st.floats(0.5, 20.0), st.sampled_from([1.0, 1.5, 2.0]),
)  # fmt: skip


def peg(**changes: float) -> FrictionPeg:
    values = {
        "taper": 30.0, "post_radius_mm": 3.9, "friction": 0.3, "kinetic_share": 0.8, "axial_n": 60.0,
        "coupling_nm_per_rad": 2.0, "jump_share": 1.0,
    }  # fmt: skip
    return FrictionPeg(**(values | changes), tightens="unknown")


# Row PEG1 (independent arithmetic): T0 r 0.2, kappa 0.1, kc 2 N m/rad, static 0.3, kinetic 0.24 N m, damped
@pytest.mark.parametrize(("shaft_rad", "peg_rad"), [(0.2499, 0.0), (0.26, 0.028571), (0.39, 0.142857)])
def test_a_peg_sticks_and_jumps(shaft_rad: float, peg_rad: float) -> None:
    assert turn(0.0, shaft_rad / DEG, STRING, ROW) * DEG == approx(peg_rad, abs=5e-7)


def test_an_undamped_jump_is_twice_as_far() -> None:
    """1.637 and 3.274 degrees (independent arithmetic)."""
    assert turn(0.0, 0.26 / DEG, STRING, ROW) == approx(1.637, abs=5e-4)
    assert turn(0.0, 0.26 / DEG, STRING, ROW._replace(jump_share=2.0)) == approx(3.274, abs=5e-4)


def test_the_dead_zone_of_a_reversal() -> None:
    """2 ts/kc = 17.19 degrees of the shaft (independent arithmetic), and so it is when it is tried."""
    assert dead_zone_deg(ROW) == approx(17.19, abs=0.005)
    smooth = ROW._replace(kinetic_nm=0.3)
    there = turn(0.0, 20.0, STRING, smooth)
    assert there > 0.0
    assert turn(there, 20.0 - dead_zone_deg(ROW) + 1e-6, STRING, smooth) == there
    assert turn(there, 20.0 - dead_zone_deg(ROW) - 1e-6, STRING, smooth) < there


@given(
    held=PEGS, pull=NUMBER, slope=st.floats(0.01, 1.0), way=st.floats(-90.0, 90.0), shares=st.lists(NUMBER, max_size=6)
)
def test_splitting_a_one_way_turn_changes_nothing(held, pull, slope, way, shares) -> None:
    """To 1e-9, and within 1e-9 of a slip at most one slip apart."""
    string = Pull(pull, slope * DEG)
    begins = pull / held.coupling_nm_per_deg  # the coupler carries the string
    whole, parts = turn(0.0, begins + way, string, held), 0.0
    for share in [*sorted(shares), 1.0]:
        parts = turn(parts, begins + share * way, string, held)
    slip = held.jump_share * (held.static_nm - held.kinetic_nm) / (held.coupling_nm_per_deg + string.nm_per_deg)
    near = abs(abs(held.coupling_nm_per_deg * (begins + way - parts) - string.at_nm(parts)) - held.static_nm) < 1e-9
    assert parts == approx(whole, abs=1e-9 + (slip if near else 0.0))


@given(held=PEGS, pull=NUMBER, slope=st.floats(0.01, 1.0), way=st.lists(st.floats(-90.0, 90.0), min_size=1, max_size=5))
def test_friction_only_takes_energy(held, pull, slope, way) -> None:
    """At a fixed shaft a slip never raises the energy of coupler and string together, damped or not."""
    string, at = Pull(pull, slope * DEG), 0.0
    for shaft in way:
        moved = turn(at, shaft, string, held)
        energies = [
            0.5 * held.coupling_nm_per_deg * (shaft - each) ** 2
            + string.torque_nm * each
            + 0.5 * string.nm_per_deg * each**2
            for each in (at, moved)
        ]
        assert energies[1] <= energies[0] + 1e-9
        at = moved


@given(held=PEGS, pull=st.floats(0.01, 2.0), slope=st.floats(0.01, 1.0))
def test_a_peg_let_go_holds_or_slips_back_to_where_it_holds(held, pull, slope) -> None:
    string = Pull(pull, slope * DEG)
    rests = let_go(0.0, string, held)
    assert (rests == 0.0) == holds(0.0, string, held) == (pull <= held.static_nm)
    assert string.at_nm(rests) <= held.static_nm + 1e-12
    assert string.at_nm(rests) >= -1e-12  # a slack string pulls no further


def test_a_damped_peg_slips_back_to_kinetic_friction() -> None:
    """A string of 0.4 N m on a peg that holds 0.3 comes to rest at 0.24 N m: 1.6 rad lower (independent arithmetic)."""
    assert let_go(0.0, Pull(0.4, 0.1 * DEG), ROW) * DEG == approx(-1.6)


def test_a_stiffer_coupler_makes_smaller_jumps() -> None:
    jumps = [turn(0.0, 0.501 / kc / DEG, STRING, ROW._replace(coupling_nm_per_deg=kc * DEG)) for kc in (1.0, 2.0, 10.0)]
    assert jumps == sorted(jumps, reverse=True)
    assert min(jumps) > 0.0


@given(turned=st.floats(-20.0, 20.0), loosen=st.floats(0.0, 90.0), past=st.floats(0.0, 10.0))
def test_the_cycle_ends_where_it_should(turned, loosen, past) -> None:
    steps = cycle(turned, loosen, past, 30.0, 2.0)
    assert [step.name for step in steps] == ["loosen", "turn past", "seat", "let go", "listen"]
    assert sum(step.turn_deg for step in steps) == approx(turned, abs=1e-9)
    assert all(step.seconds >= abs(step.turn_deg) / 30.0 - 1e-12 for step in steps)
    assert steps[3].seconds == 2.0


def test_a_peg_states_its_hold_in_newton_metres() -> None:
    """Static torque is friction times wall force times radius; the coupler's stiffness per degree."""
    held, nominal = peg().hold(), peg()
    assert held.static_nm == approx(0.3 * nominal.wall_force_n() * 3.9e-3)
    assert held.kinetic_nm == approx(0.8 * held.static_nm)
    assert held.coupling_nm_per_deg == approx(2.0 * DEG)
    assert peg(axial_n=120.0).hold().static_nm == approx(2.0 * held.static_nm)
