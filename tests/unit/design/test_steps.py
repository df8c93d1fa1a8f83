"""The smallest step of each kind of motor and of a string, against closed forms."""

import math
from typing import Any

import pytest
from pytest import approx

from models.messages import Load, Source, Turn
from models.motors.base import Motor, Shaft, energy_j
from scenarios import library
from scenarios.load import load_rig
from scenarios.schema import Part
from sim.design.facts import Facts, describe

SOURCE = Source(5.0, 0.2)
PARTS = [name for name in library.names_of("motor") if name != "ideal"]


def motor(name: str, **values: Any) -> Any:
    """Return a motor of the library, ranges at their middle."""
    part = library.part("motor", name)
    kind = library.component_class("motor", part.kind)
    known = {key: sourced.value for key, sourced in part.values.items()} | values
    return Part("motor", kind, known, {}).nominal()


def after(driven: Motor, shaft: Shaft, turn_deg: float, torque_nm: float) -> Shaft:
    """Return the state after a whole turn against a constant torque."""
    command, line = Turn(turn_deg), Load(torque_nm, 0.0, math.inf)
    shaft = driven.aim(command, shaft)
    for piece in driven.plan(command, shaft, lambda direction: line, SOURCE).pieces:
        shaft = driven.after(shaft, piece, piece.duration_s)
    return shaft


@pytest.mark.parametrize("name", PARTS)
def test_a_turn_of_some_least_steps_comes_below_the_starting_torque(name: str) -> None:
    driven = motor(name)
    torque_nm = 0.5 * driven.starting_torque_nm(SOURCE)
    step = driven.least_step_deg(torque_nm, SOURCE)
    begins = driven.regripped(1)
    assert 0.0 < step.angle_deg < 30.0
    assert after(driven, begins, 10.0 * step.angle_deg, torque_nm).angle_deg > begins.angle_deg


def test_a_servo_ignores_half_its_deadband_and_not_the_whole() -> None:
    """0.9 degrees: 10 us of 2000 us over 180 degrees; the play of the deadband ignores half of it to either side."""
    servo = motor("servo-9g", pulse_deadband_us=10.0, travel_deg=180.0, jitter_us=0.0, droop_band_deg=0.0)
    step = servo.least_step_deg(0.0, SOURCE)
    assert step == (approx(0.9), "pulse deadband")
    begins = servo.rest()
    assert after(servo, begins, 0.49 * step.angle_deg, 0.0) == begins._replace(asked_deg=begins.asked_deg + 0.441)
    forth = after(servo, begins, 5.0, 0.0)
    assert after(servo, forth, -0.95 * step.angle_deg, 0.0).angle_deg == approx(forth.angle_deg)
    assert after(servo, forth, -1.2 * step.angle_deg, 0.0).angle_deg < forth.angle_deg


def test_a_pulse_step_wider_than_the_deadband_sets_the_step() -> None:
    coarse = motor("servo-digital", pulse_step_us=10.31, travel_deg=180.0)
    assert coarse.least_step_deg(0.0, SOURCE) == (approx(10.31 * 0.09), "pulse step")


def test_a_stepper_has_to_gain_its_lag_before_it_turns() -> None:
    """Independent arithmetic: 0.4 N m holding, 0.05 N m load: asin(0.125) / 50 = 0.143615 deg, above 1.8 deg / 16."""
    plain = motor("stepper-plain", holding_torque_nm=0.4)
    strong = Source(24.0, 0.0)
    assert plain.least_step_deg(0.05, strong) == (approx(0.143615, rel=1e-5), "dead microsteps")
    assert plain.least_step_deg(0.0, strong) == (approx(0.1125), "microstep")


def test_a_small_geared_stepper_steps_by_its_true_ratio() -> None:
    """Published tooth counts, 283712/4455: 4096 half steps of the believed 64 turn 361.787 degrees."""
    geared = motor("stepper-geared", microsteps=2)
    step = geared.least_step_deg(0.0, SOURCE)
    assert step.angle_deg == approx(361.787 / 4096, rel=1e-5)


def test_a_continuous_servo_cannot_turn_less_than_a_frame() -> None:
    """100 turns a minute are 600 deg/s: 12 degrees in a frame of 20 ms (independent arithmetic)."""
    endless = motor(
        "servo-continuous-9g", speed_ref_deg_s=600.0, reference_v=4.8, neutral_error_us=0.0, frame_ms=20.0,
        run_current_a=0.12, saturation_us=500.0,
    )  # fmt: skip
    assert endless.least_step_deg(0.0, Source(4.8, 0.0)) == (approx(12.0), "frame time")


def test_a_timed_pulse_of_one_time_constant_turns_less_than_its_driver_believes() -> None:
    """Spin-up after a step of voltage, braked: the sum of both exponentials is the free speed times the pulse.

    ``w tm (1 - (1 - 1/e)) + w tm (1 - 1/e) = w tm`` without load and dry friction (closed form of a first-order lag).
    """
    timed = motor("gear-motor-100", run_current_a=1e-9, time_constant_ms=30.0)
    free = Source(6.0, 0.0)
    step = timed.least_step_deg(0.0, free)
    assert step.set_by == "spin-up"
    assert step.angle_deg == approx(timed.speed_deg_s(0.0, free) * 0.030, rel=1e-3)
    counted = motor("gear-motor-298-encoder")
    assert counted.least_step_deg(0.0, free).set_by == "encoder count"
    assert counted.least_step_deg(0.0, free).angle_deg >= 360.0 / 3576


def test_a_gear_motor_starts_only_below_its_stall_torque_over_the_break_away_factor() -> None:
    sticky = motor("gear-motor-100", breakaway_factor=1.5)
    assert sticky.starting_torque_nm(SOURCE) == approx(sticky.stall_torque_nm(SOURCE) / 1.5)


def test_the_larger_of_motor_and_friction_sets_the_step() -> None:
    sticky = {"nut.friction=0.3", "nut.wrap_deg=15", "nut.kinetic_share=0.6", "motor.part=stepper-plain"}
    rough, smooth = one(*sorted(sticky)), one("nut.part=free", "motor.part=stepper-plain")
    assert (rough.step_set_by, rough.step_cents) == ("friction slip", rough.slip_cents)
    assert smooth.slip_cents == 0.0
    assert smooth.step_cents == approx(smooth.motor_step_deg * smooth.cents_per_knob_deg)


def test_backlash_sets_the_step_only_where_the_string_does_not_hold_the_gear() -> None:
    """A post whose friction is stronger than the string's pull stands anywhere within its backlash."""
    loose = one("head.post_friction_nmm=500", "head.backlash_deg=2.0", "nut.part=free")
    held = one("head.post_friction_nmm=5", "head.backlash_deg=2.0", "nut.part=free")
    assert loose.step_set_by == "backlash"
    assert loose.step_cents == approx(2.0 * 18.0 * loose.cents_per_knob_deg)
    assert held.step_set_by == "pulse deadband"


def one(*changes: str) -> Facts:
    """Return the facts of E4 on the default rig with changes."""
    strings = 'instrument.strings=["E4"]'
    return describe(load_rig("default", changes=[strings, *changes]))[0]


@pytest.mark.parametrize("name", [name for name in PARTS if not name.startswith("stepper")])
def test_a_load_that_helps_gives_nothing_back(name: str) -> None:
    """A string that unwinds a head which does not lock drives the motor; the supply is not charged."""
    driven, helps = motor(name), Load(-0.5, 0.0, 500.0)
    begins, command = driven.regripped(-1), Turn(-40.0)
    pieces = driven.plan(command, driven.aim(command, begins), lambda direction: helps, SOURCE).pieces
    drawn = [energy_j(piece, piece.duration_s) for piece in pieces]
    assert pieces and min(drawn) >= 0.0
    assert sum(drawn) > 0.0
