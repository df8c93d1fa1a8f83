"""Worm and servo: rows of independent arithmetic."""

from itertools import accumulate, pairwise

import pytest
from pytest import approx

from models.messages import Load, Source, Turn
from models.motors.base import Shaft, angle_deg
from models.motors.servo import PositionalServo
from tests.physics.test_worms import worm

PULL_NM = 0.21777  # string's tension times winding radius


WORMS = [
    ("WRM1", 6.0, 0.15, 0.4055, -0.4205, 38.36, 6.54),
    ("greased", 5.0, 0.10, 0.4626, -0.1418, 33.63, 2.21),
    ("dry", 4.0, 0.20, 0.2554, -1.8345, 60.90, 28.54),
    ("WRM2", 10.0, 0.10, 0.6269, 0.4254, 24.82, -6.62),  # does not lock: the knob must be held
]


@pytest.mark.parametrize(
    ("lead_deg", "friction", "up", "back", "up_mnm", "down_mnm"), [row[1:] for row in WORMS], ids=[r[0] for r in WORMS]
)
def test_worm_rows(lead_deg: float, friction: float, up: float, back: float, up_mnm: float, down_mnm: float) -> None:
    """217.77 mN m at the post of a 14:1 head; efficiencies to four digits, torques to 0.01 mN m."""
    head = worm(lead_deg, friction, ratio=14.0)
    assert head.efficiency_up() == approx(up, abs=5e-5)
    assert head.efficiency_back() == approx(back, abs=5e-5)
    assert head.self_locking() == (back < 0)
    assert head.knob_torque_per_nm(1) * PULL_NM * 1e3 == approx(up_mnm, abs=0.01)
    assert head.knob_torque_per_nm(-1) * PULL_NM * 1e3 == approx(down_mnm, abs=0.01)


SERVO = PositionalServo(
    travel_deg=180.0,
    pulse_span_us=2000.0,
    pulse_step_us=1.0,
    pulse_deadband_us=10.0,
    speed_ref_deg_s=600.0,
    stall_torque_ref_nm=0.17652,
    reference_v=5.0,
    droop_band_deg=5.0,
    run_current_a=0.1,
    stall_current_a=0.7,
    frame_ms=20.0,
)
STIFF = Source(5.0, 0.0)


def test_row_srv1() -> None:
    """Pulses through a deadband of 10 us (half 5) from 1500 us: 1500, 1500, 1501, 1515, 1515, 1513."""
    deg_per_us = 180.0 / 2000.0
    pulses_us = [1500, 1504, 1506, 1520, 1516, 1508]
    asked = [Turn((after - before) * deg_per_us) for before, after in pairwise(pulses_us)]
    start = Shaft(1500 * deg_per_us, 1500 * deg_per_us, 1500 * deg_per_us)
    held_us = [
        shaft.held_deg / deg_per_us for shaft in accumulate(asked, lambda at, turn: SERVO.aim(turn, at), initial=start)
    ]
    assert held_us == approx([1500, 1500, 1501, 1515, 1515, 1513], abs=1e-9)


def test_row_srv2() -> None:
    """5 degrees of band, 38.36 of 176.52 mN m, 600 deg/s: droop 1.0866 degrees at 469.61 deg/s."""
    load = Load(0.03836, 0.0, 1e3)
    motion = SERVO.plan(Turn(45.0), SERVO.aim(Turn(45.0), SERVO.rest()), lambda direction: load, STIFF)
    (piece,) = motion.pieces
    asked_deg = 90.0 + 45.0 - 5.0 * 0.09  # half the pulse deadband is lost
    assert asked_deg - angle_deg(piece, piece.duration_s) == approx(1.0866, abs=5e-5)
    assert piece.speed_deg_s == approx(469.61, abs=5e-3)
    assert SERVO.speed_deg_s(0.03836, STIFF) == piece.speed_deg_s


def test_a_servo_stalls_in_mid_move_where_its_torque_ends() -> None:
    """A line from 0 that reaches the stall torque after 20 degrees stops the shaft there, to a thousandth."""
    load = Load(0.0, SERVO.stall_torque_nm(STIFF) / 20.0, 1e3)
    motion = SERVO.plan(Turn(80.0), SERVO.aim(Turn(80.0), SERVO.rest()), lambda direction: load, STIFF)
    end_deg = angle_deg(motion.pieces[-1], motion.pieces[-1].duration_s)
    goal_deg = 80.0 - 5.0 * 0.09
    droop_end_deg = 90.0 + goal_deg / (1.0 + 5.0 / 20.0)  # if the droop alone ended the move
    assert motion.ending == "stalled"
    assert end_deg == approx(90.0 + 20.0, rel=1e-3)
    assert end_deg < droop_end_deg


def test_torque_and_speed_go_with_the_voltage() -> None:
    """Both in proportion to the terminal voltage, which sags by the current times the resistance."""
    half = Source(2.5, 0.0)
    assert SERVO.stall_torque_nm(half) == approx(SERVO.stall_torque_nm(STIFF) / 2)
    assert SERVO.speed_deg_s(0.0, half) == approx(300.0)
    sagging = Source(5.0, 1.0)
    stall_nm = SERVO.stall_torque_nm(sagging)
    amps = 0.1 + 0.6 * stall_nm / 0.17652
    assert stall_nm == approx(0.17652 * (5.0 - amps) / 5.0, rel=1e-12)


def test_a_pulse_change_below_the_deadband_moves_nothing() -> None:
    shaft = SERVO.aim(Turn(4.0 * 0.09), SERVO.rest())
    assert SERVO.plan(Turn(0.36), shaft, lambda direction: Load(0.0, 0.0, 1e3), STIFF).pieces == ()
