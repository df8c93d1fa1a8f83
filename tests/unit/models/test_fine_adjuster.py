"""The fine adjuster: a screw, a lever, and the post that would do the same."""

import math

import pytest
from pytest import approx

from models.head.fine_adjuster import FineAdjuster

TENSION_N = 75.0


def adjuster(**changes: float) -> FineAdjuster:
    values = {
        "screw_pitch_mm": 0.6, "screw_diameter_mm": 2.6, "screw_friction": 0.15, "lever_ratio": 2.0,
        "travel_turns": 10.0,
    }  # fmt: skip
    return FineAdjuster(**(values | changes), tightens="clockwise")


def test_a_turn_takes_up_the_pitch_over_the_lever() -> None:
    """A pitch of 0.5 to 0.7 mm at 2:1 gives 0.25 to 0.35 mm a turn (common practice, from memory)."""
    for pitch_mm, string_mm in ((0.5, 0.25), (0.7, 0.35)):
        made = adjuster(screw_pitch_mm=pitch_mm)
        assert 2.0 * math.pi * made.winding_radius_mm(0.26) == approx(string_mm)
        assert made.travel_mm() == approx(10.0 * string_mm)


@pytest.mark.parametrize("friction", [0.0, 0.1, 0.2])
def test_work_at_the_knob_is_work_on_the_string_and_in_the_thread(friction: float) -> None:
    """Up costs at least the string's work, and exactly that without friction; down gives back at most that."""
    made = adjuster(screw_friction=friction)
    string_j = TENSION_N * made.winding_radius_mm(0.26) * 1e-3  # per radian
    up_j, down_j = (made.knob_torque_per_nm(direction) * string_j for direction in (1, -1))
    assert up_j >= string_j * (1.0 - 1e-12)
    assert down_j >= -string_j * (1.0 + 1e-12)
    assert (up_j == approx(string_j)) == (friction == 0.0) == (down_j == approx(-string_j))


def test_it_locks_when_its_lead_is_below_the_friction_angle() -> None:
    """Power screw (Shigley): locks for ``pi mu d > pitch``."""
    critical = 0.6 / (math.pi * 2.6)
    assert adjuster(screw_friction=critical * 1.001).self_locking()
    assert not adjuster(screw_friction=critical * 0.999).self_locking()


def test_torque_is_that_of_a_power_screw() -> None:
    """``F d/2 (l + pi mu d)/(pi d - mu l)`` up and ``(pi mu d - l)/(pi d + mu l)`` down (Shigley, square thread)."""
    made, force_n = adjuster(), TENSION_N / 2.0
    for direction, over, under in ((1, 0.6 + math.pi * 0.15 * 2.6, math.pi * 2.6 - 0.15 * 0.6),
                                   (-1, math.pi * 0.15 * 2.6 - 0.6, math.pi * 2.6 + 0.15 * 0.6)):  # fmt: skip
        wanted_nm = force_n * 1.3e-3 * over / under
        assert made.knob_torque_per_nm(direction) * TENSION_N * made.winding_radius_mm(0.26) * 1e-3 == approx(wanted_nm)
