"""Positional servo: power-up jump, jitter and slop of its output. Its rows are with the rows of the drive."""

import math
from dataclasses import replace
from itertools import accumulate, pairwise
from statistics import fmean, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.messages import Load, Source, Turn
from models.motors.base import Shaft, angle_deg
from models.motors.servo import PositionalServo

SERVO = PositionalServo(
    travel_deg=180.0, pulse_span_us=2000.0, pulse_step_us=1.0, pulse_deadband_us=0.0, speed_ref_deg_s=600.0,
    stall_torque_ref_nm=0.17652, reference_v=5.0, droop_band_deg=0.0, run_current_a=0.1, stall_current_a=0.7,
    frame_ms=20.0,
)  # fmt: skip
SUPPLY = Source(5.0, 0.0)
FREE = Load(0.0, 0.0, 1e6)
DEG_PER_US = 180.0 / 2000.0


def end_deg(servo: PositionalServo, turn: Turn, shaft: Shaft) -> float:
    motion = servo.plan(turn, servo.aim(turn, shaft), lambda direction: FREE, SUPPLY)
    return angle_deg(motion.pieces[-1], motion.pieces[-1].duration_s) if motion.pieces else shaft.angle_deg


def test_without_the_new_parameters_it_rests_in_the_middle_and_hits_its_step() -> None:
    assert SERVO.rest() == Shaft(90.0, 90.0, 90.0)
    assert SERVO.aim(Turn(9.0), SERVO.rest()).held_deg == approx(99.0, abs=1e-9)
    assert SERVO.slop_deg() == 0.0


@given(power_up=st.floats(-80.0, 80.0), turn=st.floats(-60.0, 60.0).map(lambda angle: DEG_PER_US * round(angle / 0.09)))
def test_a_coupled_knob_makes_the_power_up_jump_with_the_first_command(power_up: float, turn: float) -> None:
    """The first pulse asks for an angle and not for a turn: the knob turns by the turn less the offset."""
    servo = replace(SERVO, power_up_deg=power_up, coupled_before_power=True)
    first = servo.rest()
    assert first.angle_deg == approx(90.0 + power_up)
    end = end_deg(servo, Turn(turn), first)
    assert end - first.angle_deg == approx(turn - power_up, abs=1e-9)
    second = servo.aim(Turn(turn), first)._replace(angle_deg=end)
    assert end_deg(servo, Turn(-turn), second) == approx(90.0, abs=1e-9)  # and never again


def test_the_jump_is_made_at_full_speed() -> None:
    servo = replace(SERVO, power_up_deg=60.0, coupled_before_power=True)
    motion = servo.plan(Turn(1.8), servo.aim(Turn(1.8), servo.rest()), lambda direction: FREE, SUPPLY)
    assert motion.pieces[0].speed_deg_s == approx(-600.0)  # 60 degrees of jump back, against a turn of 1.8


def test_a_coupler_put_on_after_power_up_sees_no_jump() -> None:
    assert replace(SERVO, power_up_deg=60.0).rest() == SERVO.rest()


@pytest.mark.parametrize(("power_up", "stands"), [(-400.0, 0.0), (400.0, 180.0)])
def test_the_shaft_stands_within_its_travel(power_up: float, stands: float) -> None:
    servo = replace(SERVO, power_up_deg=power_up, coupled_before_power=True)
    assert servo.rest().angle_deg == stands
    assert servo.rest().asked_deg == 90.0


@pytest.mark.parametrize("direction", [1, -1])
def test_the_jump_is_over_when_the_hand_grips_again(direction: int) -> None:
    servo = replace(SERVO, power_up_deg=60.0, coupled_before_power=True)
    assert servo.regripped(direction) == SERVO.regripped(direction)


def test_jitter_is_normal_with_its_standard_deviation() -> None:
    """1700 neighbouring pulses: mean and spread within 4 standard errors, 95.4 % within two sigma (binomial)."""
    servo, count = replace(SERVO, jitter_us=3.0), 1700
    pulses = [DEG_PER_US * (150 + each) for each in range(count)]
    misses = [(servo.aim(Turn(pulse - 90.0), servo.rest()).held_deg - pulse) / DEG_PER_US for pulse in pulses]
    assert abs(fmean(misses)) < 4 * 3.0 / math.sqrt(count)
    assert stdev(misses) == approx(3.0, abs=4 * 3.0 / math.sqrt(2 * count))
    inside = sum(abs(miss) < 6.0 for miss in misses) / count
    assert inside == approx(0.9545, abs=4 * math.sqrt(0.9545 * 0.0455 / count))


def test_neighbouring_pulses_miss_independently() -> None:
    """Correlation of each miss with the next within 4 standard errors of 0."""
    servo, count = replace(SERVO, jitter_us=1.0), 1500
    held = [servo.aim(Turn(DEG_PER_US * each - 90.0), servo.rest()).held_deg for each in range(200, 200 + count)]
    misses = [(at - DEG_PER_US * (200 + each)) / DEG_PER_US for each, at in enumerate(held)]
    product = fmean(one * other for one, other in pairwise(misses))
    assert abs(product) < 4 / math.sqrt(count)


def test_the_same_pulse_misses_by_the_same_and_misses_do_not_add_up() -> None:
    servo = replace(SERVO, jitter_us=5.0)
    turns = [Turn(9.0), Turn(-9.0)] * 50
    shafts = list(accumulate(turns, lambda at, turn: servo.aim(turn, at), initial=servo.rest()))
    assert len({shaft.held_deg for shaft in shafts[1::2]}) == 1
    assert shafts[-1].asked_deg == approx(90.0)
    assert shafts[1].held_deg != SERVO.aim(Turn(9.0), SERVO.rest()).held_deg


def test_a_jitter_below_the_deadband_leaves_the_shaft_where_it_is() -> None:
    """Asked for where it is: the miss of one pulse stays inside a deadband of many sigma."""
    servo = replace(SERVO, jitter_us=1.0, pulse_deadband_us=30.0)
    assert servo.aim(Turn(0.0), servo.rest()).held_deg == 90.0


@given(turn=st.floats(-400.0, 400.0), jitter=st.floats(0.0, 50.0))
def test_jitter_never_holds_beyond_the_travel(turn: float, jitter: float) -> None:
    servo = replace(SERVO, jitter_us=jitter)
    assert 0.0 <= servo.aim(Turn(turn), servo.rest()).held_deg <= servo.stroke_deg()


def test_output_slop_is_offered_to_the_drive_train() -> None:
    assert replace(SERVO, output_slop_deg=1.2).slop_deg() == 1.2


@given(travel=st.floats(150.0, 200.0), turn=st.floats(-40.0, 40.0))
def test_a_wrong_belief_in_the_travel_scales_every_turn(travel: float, turn: float) -> None:
    """Firmware that takes 180 degrees for the whole pulse span turns by ``travel / 180`` of what it means to."""
    motor = replace(SERVO, pulse_step_us=0.0, droop_band_deg=0.0, travel_deg=travel, believed_travel_deg=180.0)
    shaft = motor.aim(Turn(turn), motor.rest())
    assert shaft.held_deg - shaft.angle_deg == approx(turn * travel / 180.0, abs=1e-9)
    assert shaft.left_deg == approx(0.0, abs=1e-9)


def test_a_belief_in_more_travel_than_there_is_loses_nothing_at_the_end() -> None:
    """The end of the pulses is the end of the travel, whatever it is called; what is left is in believed degrees."""
    motor = replace(SERVO, pulse_step_us=0.0, travel_deg=160.0, believed_travel_deg=180.0)
    shaft = motor.aim(Turn(100.0), motor.rest())
    assert (shaft.held_deg, shaft.asked_deg, shaft.left_deg) == approx((160.0, 180.0, 10.0))
