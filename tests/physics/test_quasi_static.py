"""How good is quasi-static: moves in closed form against an integration in time with inertia (scipy's Runge-Kutta).

The integration has what the plant leaves out: the rotor's inertia behind the gear, knob and post, and a shaft that
friction stops only once it stands. Inertias are estimates: 2e-4 kg m2 for a small servo at its horn, 3e-7 for a knob of
10 g on 8 mm, as much for post and worm wheel seen through 14:1.
"""

import math
from collections.abc import Callable

import pytest

from models.drivetrain import Chain
from models.messages import Turn
from models.motors.base import Motor
from models.motors.gear_motor import GearMotor
from models.motors.servo import PositionalServo
from tests.unit.models.test_drive import mounted
from tests.unit.models.test_drivetrain import built
from tests.unit.models.test_gear_motor import IDLE_A, KE, KT, OHM, SHEET, J

VOLTS, SUPPLY_OHM, KNOBS_KG_M2, SERVO_KG_M2 = 6.0, 0.2, 6e-7, 2e-4
STALL_NM, FULL_DEG_S, BAND_DEG = 0.4, 360.0, 5.0
SERVO = PositionalServo(
    travel_deg=180.0, pulse_span_us=2000.0, pulse_step_us=0.0, pulse_deadband_us=0.0, speed_ref_deg_s=FULL_DEG_S,
    stall_torque_ref_nm=STALL_NM, reference_v=VOLTS, droop_band_deg=BAND_DEG, run_current_a=0.0,
    stall_current_a=1e-6, frame_ms=20.0,
)  # fmt: skip
Torque = Callable[[float, float, float], float]
"""Torque of the motor in N m at a time, angle (deg) and speed (deg/s)."""


def closed(motor: Motor, turn_deg: float) -> tuple[float, float]:
    """Return angle turned and seconds of a move in closed form, the string at 70 N."""
    instrument, drive = mounted(motor)
    start = instrument.paths["a"].begins.shaft_deg
    end = drive.command(Turn(turn_deg), 0)
    return instrument.paths["a"].last_before(end.at_ns).ends.shaft_deg - start, end.at_ns * 1e-9


def integrated(motor: Motor, torque: Torque, kg_m2: float, direction: int) -> Callable[[float], float]:
    """Return the angle turned over time, until the shaft stands, friction then holding it."""
    from scipy.integrate import solve_ivp

    train: Chain = built()
    begins = train.at(70.0, motor.rest().angle_deg)

    def slope(t: float, state: list[float]) -> list[float]:
        angle, speed = state
        load = train.load(train.follow(begins, begins.shaft_deg + direction * max(angle, 0.0)), direction)
        return [speed, math.degrees((torque(t, angle, speed) - load.torque_nm) / kg_m2)]

    def stands(t: float, state: list[float]) -> float:
        return state[1]

    stands.terminal, stands.direction = True, -1.0
    found = solve_ivp(
        slope, (0.0, 3.0), [0.0, 1e-9], rtol=1e-7, atol=1e-7, max_step=2e-3, events=stands, dense_output=True
    )
    return lambda t: float(found.sol(min(t, found.t[-1]))[0])


def servo_nm(goal_deg: float) -> Torque:
    """Return a servo that pushes in proportion to what is left, up to its stall torque, less what its speed costs."""

    def torque(t: float, angle: float, speed: float) -> float:
        return STALL_NM * (min(1.0, max(-1.0, (goal_deg - angle) / BAND_DEG)) - speed / FULL_DEG_S)

    return torque


def pulse_nm(seconds: float) -> Torque:
    """Return a gear motor driven for so long, then shorted."""

    def torque(t: float, angle: float, speed: float) -> float:
        volts, ohms = (VOLTS, OHM + SUPPLY_OHM) if t < seconds else (0.0, OHM)
        return KT * ((volts - KE * math.radians(speed)) / ohms - IDLE_A)

    return torque


@pytest.mark.parametrize("turn_deg", [45.0, -45.0, 10.0, 3.0])
def test_a_servo_without_inertia_ends_where_one_with_it_does_a_little_earlier(turn_deg: float) -> None:
    """Droop, not inertia, ends the move: same angle to 0.001 degrees, within 0.1 of it at most 40 ms later."""
    turned, seconds = closed(SERVO, turn_deg)
    way = 1 if turn_deg > 0.0 else -1
    angle_at = integrated(SERVO, servo_nm(abs(turn_deg)), SERVO_KG_M2 + KNOBS_KG_M2, way)
    planned_s = seconds - SERVO.lead_s()
    assert turned == pytest.approx(way * angle_at(3.0), abs=1e-3)
    assert abs(turned) - angle_at(planned_s) > 0.1
    assert abs(turned) == pytest.approx(angle_at(planned_s + 0.04), abs=0.1)


@pytest.mark.parametrize("turn_deg", [45.0, -45.0, 10.0])
def test_a_gear_motor_knows_its_inertia_and_not_the_knobs(turn_deg: float) -> None:
    """Its time constant is in the closed form; the knob's inertia and the load's own curve cost 0.03 degrees."""
    turned, seconds = closed(GearMotor(**SHEET), turn_deg)
    way = 1 if turn_deg > 0.0 else -1
    angle_at = integrated(GearMotor(**SHEET), pulse_nm(abs(turn_deg) / 1000.0), J + KNOBS_KG_M2, way)
    assert turned == pytest.approx(way * angle_at(3.0), abs=0.03)
    assert abs(turned) == pytest.approx(angle_at(seconds), abs=0.1)
