"""The friction peg as a component: what it holds, and the order of its cycle."""

from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.head.friction_peg import FrictionPeg, cycle


def peg(**changes: float) -> FrictionPeg:
    values = {
        "taper": 30.0, "post_radius_mm": 3.9, "friction": 0.3, "kinetic_share": 0.8, "axial_n": 60.0, "jump_share": 1.0,
    }  # fmt: skip
    return FrictionPeg(**(values | changes), tightens="unknown")


def test_a_peg_states_its_hold_in_newton_metres() -> None:
    """Static torque is friction times wall force times radius, in proportion to how hard it was pushed in."""
    nominal = peg()
    assert nominal.static_nm() == approx(0.3 * nominal.wall_force_n() * 3.9e-3)
    assert peg(axial_n=120.0).static_nm() == approx(2.0 * nominal.static_nm())
    made = nominal.mechanism()
    assert made.kinetic_nm == approx(0.8 * made.static_nm)
    assert peg(jump_share=2.0).mechanism().quantum_nm() == approx(2.0 * (made.static_nm - made.kinetic_nm))


@given(turned=st.floats(-20.0, 20.0), loosen=st.floats(0.0, 90.0), past=st.floats(0.0, 10.0))
def test_the_cycle_ends_where_it_should(turned, loosen, past) -> None:
    steps = cycle(turned, loosen, past, 30.0, 2.0)
    assert [step.name for step in steps] == ["loosen", "turn past", "seat", "let go", "listen"]
    assert sum(step.turn_deg for step in steps) == approx(turned, abs=1e-9)
    assert all(step.seconds >= abs(step.turn_deg) / 30.0 - 1e-12 for step in steps)
    assert steps[3].seconds == 2.0
