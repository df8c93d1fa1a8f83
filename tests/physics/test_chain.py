"""The whole drive train, from coupler to string with sticking grooves: rate-independent, and passive."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.coupler import Twist
from models.drivetrain import Angles, Chain, chain
from models.head.gear import Head
from models.head.nut import friction
from models.strings.tension import strung
from models.units import midi_hz
from tests.loop.rigs import E4
from tests.unit.models.test_nut import nut

STRING = strung(E4, 3.0, midi_hz(64))
FRICTIONS = st.sampled_from([0.0, 0.1, 0.25])
TURNS = st.lists(st.floats(-60.0, 60.0), min_size=1, max_size=4)


def train(lead_deg: float, rubs: float, kinetic: float, slop_deg: float = 4.0) -> Chain:
    """Return worm, coupler and string on a nut that sticks (0: slides freely)."""
    head = Head(
        ratio=14.0, post_radius_mm=3.0, lead_angle_deg=lead_deg, worm_friction=0.12, backlash_deg=1.0,
        post_friction_nmm=10.0, tightens="clockwise",
    )  # fmt: skip
    held = friction(nut(friction=rubs, wrap_deg=14.0, kinetic_share=kinetic), STRING.ea_n, 0.648, 0.75)
    return chain(STRING, head.mechanism(), Twist(slop_deg / 2.0), held)


@settings(max_examples=200, deadline=None)
@given(rubs=FRICTIONS, tension=st.floats(20.0, 70.0), way=TURNS, shares=st.lists(st.floats(0.0, 1.0), max_size=4))
def test_splitting_a_one_way_turn_of_the_whole_chain_changes_nothing(rubs, tension, way, shares) -> None:
    """Rate-independent from coupler to string, up to 1e-9; grooves that slide have no threshold to be near."""
    built = train(6.0, rubs, 1.0)
    whole = parts = built.at(tension, 0.0)
    for turn in way:
        start = whole.shaft_deg
        whole = built.follow(whole, start + turn)
        for share in [*sorted(shares), 1.0]:
            parts = built.follow(parts, start + share * turn)
        assert parts == pytest.approx(tuple(whole), rel=1e-9, abs=1e-9)


@settings(max_examples=200, deadline=None)
@given(rubs=FRICTIONS.filter(bool), tension=st.floats(20.0, 70.0), way=TURNS, share=st.floats(0.0, 1.0))
def test_splitting_a_turn_over_slips_ends_at_most_one_slip_apart(rubs, tension, way, share) -> None:
    """Nothing that was wound is lost; the state is the same, or one slip apart within 1e-9 of a threshold."""
    built = train(6.0, rubs, 0.8)
    whole = parts = built.at(tension, 0.0)
    for turn in way:
        start = whole.shaft_deg
        whole = built.follow(whole, start + turn)
        parts = built.follow(built.follow(parts, start + share * turn), start + turn)
        assert parts[:4] == pytest.approx(whole[:4], abs=1e-9)
        slip_n = 1.1 * abs(whole.speaking_n) * (2.0 ** (built.slip_cents(abs(tension)) / 600.0) - 1.0)
        assert abs(parts.speaking_n - whole.speaking_n) <= max(1e-7, slip_n)
        parts = whole


def walked(built: Chain, angles: Angles, to_deg: float) -> tuple[Angles, float]:
    """Return the chain after a turn, and the work in N m deg that the shaft did: load lines up to each event."""
    work = 0.0
    while (left := to_deg - angles.shaft_deg) != 0.0:
        direction = 1 if left > 0.0 else -1
        load = built.load(angles, direction)
        step = min(abs(left), load.room_deg)
        work += (load.torque_nm + load.slope_nm_per_deg * step / 2.0) * step
        last = step >= abs(left) - 1e-12
        angles = built.follow(angles, to_deg if last else angles.shaft_deg + direction * step)
    return angles, work


@settings(max_examples=200, deadline=None)
@given(rubs=FRICTIONS, lead=st.sampled_from([4.0, 6.0, 9.0, 14.0]), tension=st.floats(30.0, 70.0), way=TURNS)
def test_over_any_closed_path_of_the_shaft_the_chain_takes_work(rubs, lead, tension, way) -> None:
    """Passive: back at the shaft angle where it was tightened to, it has given nothing; worms that lock or do not."""
    built = train(lead, rubs, 1.0)
    angles, work = built.at(tension, 0.0), 0.0
    for turn in (*way, None):
        angles, done = walked(built, angles, 0.0 if turn is None else angles.shaft_deg + turn)
        work += done
    assert work >= -1e-9


@pytest.mark.parametrize("lead_deg", [6.0, 14.0])
def test_the_work_of_tightening_is_the_strings_energy_over_the_worms_efficiency(lead_deg: float) -> None:
    """``(T2^2 - T1^2)/(2 k)`` over the efficiency; loosening again, a worm that does not lock gives its share back."""
    built = train(lead_deg, 0.0, 1.0, slop_deg=0.0)
    start = built.at(40.0, 0.0)
    up, work = walked(built, start, 300.0)
    stored_j = (up.speaking_n**2 - 40.0**2) / (2.0 * STRING.stiffness_n_m)
    assert math.radians(work) == pytest.approx(stored_j * built.torque_up * built.ratio, rel=1e-9)
    _, back = walked(built, up, 0.0)
    assert math.radians(back) == pytest.approx(stored_j * built.torque_down * built.ratio, rel=1e-9)
    assert (back < 0.0) == (lead_deg > 7.0)
