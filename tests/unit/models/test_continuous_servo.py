"""Continuous servo: pulse to speed, whole frames, believed speed, drifting neutral, stall."""

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx
from scipy.integrate import solve_ivp

from models.drive import Drive, Machine, Stand
from models.instrument import Instrument
from models.messages import STOP, Load, Motion, Source, Spin, Turn
from models.motors.base import angle_deg
from models.motors.continuous_servo import ContinuousServo
from models.supply import Supply
from models.units import NANOSECONDS
from tests.unit.models.test_drivetrain import built

SERVO = ContinuousServo(
    neutral_band_us=45.0, neutral_error_us=0.0, saturation_us=500.0, believed_full_us=500.0,
    believed_speed_deg_s=600.0, speed_ref_deg_s=600.0, stall_torque_ref_nm=0.12749, reference_v=4.8,
    run_current_a=0.12, stall_current_a=0.8, frame_ms=20.0, backdrive_nm=0.02,
)  # fmt: skip
SUPPLY = Source(4.8, 0.0)
UP_NM, DOWN_NM = 0.03836, 0.00654  # knob torque of a steel string on a 14:1 worm, tightening and loosening


def planned(servo: ContinuousServo, command: Any, torque_nm: float = 0.0, slope: float = 0.0) -> Motion:
    load = Load(torque_nm, slope, 1e6)
    return servo.plan(command, servo.aim(command, servo.rest()), lambda direction: load, SUPPLY)


def turned_deg(motion: Motion) -> float:
    return angle_deg(motion.pieces[-1], motion.pieces[-1].duration_s) if motion.pieces else 0.0


@pytest.mark.parametrize(
    ("offset_us", "torque_nm", "turns_deg"), [(300, UP_NM, 9.344), (-300, DOWN_NM, -18.329), (100, UP_NM, 0.0)]
)
def test_row_cr1(offset_us: float, torque_nm: float, turns_deg: float) -> None:
    """60 ms at 1800 us under 0.3009 of the stall torque: 9.344 degrees; under 0.0513: 18.329; at 1600 us: none.

    Independent arithmetic.
    """
    servo = replace(SERVO, believed_full_us=abs(offset_us))
    motion = planned(servo, Turn(math.copysign(36.0, offset_us)), torque_nm)
    assert turned_deg(motion) == approx(turns_deg, abs=1e-3)
    assert motion.ending == ("reached" if turns_deg else "stalled")


def test_one_frame_at_the_knob_is_seven_cents() -> None:
    """12 degrees of a 14:1 knob on a 0.254 mm steel E4: 7.23 cents (independent arithmetic)."""
    area_m2, length_m, total_m, radius_m = math.pi / 4 * 0.254e-3**2, 0.648, 0.75, 3e-3
    tension_n = 7850.0 * area_m2 * (2 * length_m * 329.628) ** 2
    stiffness_n_m = 200e9 * area_m2 / total_m
    cents_per_deg = 600 / math.log(2) * stiffness_n_m * radius_m / tension_n * math.radians(1) / 14
    (piece,) = planned(SERVO, Turn(12.0)).pieces
    assert piece.duration_s == approx(0.020)
    assert turned_deg(planned(SERVO, Turn(12.0))) * cents_per_deg == approx(7.23, abs=0.005)


@given(asked=st.floats(-300.0, 300.0), believed=st.floats(100.0, 1200.0))
def test_a_turn_is_a_whole_number_of_frames_at_the_believed_speed(asked: float, believed: float) -> None:
    servo = replace(SERVO, believed_speed_deg_s=believed)
    frames = servo.aim(Turn(asked), servo.rest()).drive_s / 0.020
    assert frames == approx(round(frames))
    assert abs(frames * believed * 0.020 - abs(asked)) <= believed * 0.020 / 2 * (1 + 1e-9)
    way = turned_deg(planned(servo, Turn(asked)))
    assert way == approx(math.copysign(frames * 0.020 * 600.0, asked))  # what it truly turns, unloaded


def test_less_than_half_a_frame_moves_nothing() -> None:
    assert planned(SERVO, Turn(5.9)) == Motion((), "reached")
    assert planned(SERVO, Turn(6.1)).pieces


@given(offset=st.floats(50.0, 700.0), up=st.floats(0.0, 0.1), less=st.floats(0.0, 1.0))
def test_tightening_is_never_faster_than_loosening(offset: float, up: float, less: float) -> None:
    """The load of the way down is at most that of the way up: a worm's friction helps to hold."""
    servo = replace(SERVO, believed_full_us=offset)
    assert abs(turned_deg(planned(servo, Turn(60.0), up))) <= abs(turned_deg(planned(servo, Turn(-60.0), up * less)))


def test_a_slow_crawl_turns_the_free_shaft_and_stalls_under_load() -> None:
    free = planned(SERVO, Spin(120.0))
    assert free.ending == "next event"
    assert free.pieces[0].speed_deg_s == approx(600 * 55 / 455)
    assert planned(SERVO, Spin(120.0), UP_NM) == Motion((), "stalled")
    assert planned(SERVO, Spin(50.0)) == Motion((), "reached")  # within the band the servo stands still


def test_a_spin_beyond_full_speed_is_full_speed() -> None:
    assert planned(SERVO, Spin(-5000.0)).pieces == planned(SERVO, Spin(-600.0)).pieces


def test_a_neutral_that_is_off_makes_one_way_faster_and_turns_a_slow_spin_round() -> None:
    off = replace(SERVO, neutral_error_us=80.0)
    up, down = (planned(off, Spin(speed)).pieces[0].speed_deg_s for speed in (300.0, -300.0))
    assert (up, down) == approx((600 * (250 - 80 - 45) / 455, -600 * (250 + 80 - 45) / 455))
    assert planned(off, Spin(30.0)).pieces[0].speed_deg_s < 0.0  # 25 us asked of a neutral that is 80 us off


def test_no_pulses_no_creep() -> None:
    """Between moves the driver is silent, so that the error of neutral turns nothing, and only friction holds."""
    off = replace(SERVO, neutral_error_us=80.0)
    for command in (STOP, Spin(0.0)):
        halt = off.aim(command, off.aim(Spin(300.0), off.rest()))
        assert off.plan(command, halt, lambda direction: Load(0.0, 0.0, 1e6), SUPPLY) == Motion((), "reached")
    assert off.holding_nm(SUPPLY) == 0.02


def test_speed_and_stall_go_with_the_voltage() -> None:
    half = Source(2.4, 0.0)
    assert SERVO.stall_torque_nm(half) == approx(SERVO.stall_torque_nm(SUPPLY) / 2)
    assert SERVO.speed_deg_s(0.0, half) == approx(SERVO.speed_deg_s(0.0, SUPPLY) / 2)


def test_a_pulse_short_of_saturation_has_less_torque() -> None:
    weak = replace(SERVO, believed_full_us=272.5)
    assert weak.stall_torque_nm(SUPPLY) == approx(SERVO.stall_torque_nm(SUPPLY) / 2)
    assert planned(weak, Turn(60.0), 0.51 * 0.12749).ending == "stalled"
    assert planned(weak, Turn(60.0), 0.49 * 0.12749).ending == "reached"


@pytest.mark.parametrize(("torque_nm", "slope"), [(0.02, 2e-4), (0.05, 1e-3), (0.03, -5e-4)])
def test_a_growing_load_slows_it_as_the_equation_says(torque_nm: float, slope: float) -> None:
    """``speed = w0 (push - torque / stall)`` integrated by an independent library (scipy's solve_ivp)."""
    servo = replace(SERVO, believed_full_us=400.0)
    motion = planned(servo, Turn(48.0), torque_nm, slope)
    push = (400 - 45) / 455
    found = solve_ivp(
        lambda at, angle: 600.0 * (push - (torque_nm + slope * angle) / 0.12749), (0.0, 0.080), [0.0], rtol=1e-10
    )
    assert motion.ending == "reached"
    assert turned_deg(motion) == approx(found.y[0, -1], rel=1e-7)


@pytest.mark.parametrize("command", [Turn(6000.0), Spin(600.0)])
def test_it_stalls_where_the_load_has_grown_to_its_torque(command: Any) -> None:
    motion = planned(SERVO, command, 0.0, 0.12749 / 20.0)
    assert motion.ending == "stalled"
    assert turned_deg(motion) == approx(20.0, rel=1.01e-3)


def test_driving_time_is_kept_across_slop_and_string() -> None:
    """The frames are counted, whatever the shaft meets: slop first, then the string."""
    train = built()
    begins = train.at(70.0, 0.0)
    instrument = Instrument({"a": train}, {"a": begins})
    machine = Machine(SERVO, Supply(voltage_v=4.8, resistance_ohm=0.1), 0.0, False)
    drive = Drive(instrument, "a", machine, lambda number: (3.0, 0.5), Stand(begins, machine.motor.rest()))
    drive.command(Turn(-120.0), 0)
    assert len(instrument.paths["a"].stretches) > 1
    assert drive.end.how == "rest"
    assert drive.end.at_ns == approx(0.2 * NANOSECONDS, abs=len(instrument.paths["a"].stretches))


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"run_current_a": 0.9}, "run_current_a"),
        ({"neutral_band_us": 100.0, "saturation_us": 100.0}, "saturation_us"),
        ({"neutral_error_us": 60.0, "believed_full_us": 100.0}, "no turn starts"),
        ({"believed_speed_deg_s": 0.0}, "believed_speed_deg_s"),
        ({"believed_speed_deg_s": -600.0}, "believed_speed_deg_s"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, float], word: str) -> None:
    with pytest.raises(ValidationError, match=word):
        replace(SERVO, **changes)
