"""A motor whose power is cut: a gear motor coasts until friction and string have used up its energy, others stand."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from models.drive import Drive, Machine, Stand
from models.instrument import Instrument
from models.messages import Source, Spin, Turn
from models.motors.base import Motor
from models.motors.gear_motor import GearMotor
from models.units import NANOSECONDS
from scenarios.load import load_rig
from tests.loop.rigs import Bench
from tests.unit.models.test_drivetrain import built

START_N = 40.0


def gear_motor(stopping: str) -> GearMotor:
    motor: GearMotor = load_rig("gear-motor").motor.nominal()
    return replace(motor, stopping=stopping)


def run_out_deg(motor: Motor, command: Turn | Spin, stop: Callable[[Drive], None], cut_s: float = 0.5) -> float:
    """Return how far the shaft turns after it was stopped in mid-motion on a string."""
    train = built()
    begins = train.at(START_N, motor.rest().angle_deg)
    instrument = Instrument({"a": train}, {"a": begins})
    machine = Machine(motor, Bench(Source(6.0, 0.5)), 0.0, True)
    drive = Drive(instrument, "a", machine, lambda number: (3.0, 0.5), Stand(begins, motor.rest()))
    drive.command(command, 0)
    stretch = instrument.paths["a"].last_before(round(cut_s * NANOSECONDS))
    assert stretch is not None
    at_deg = stretch.shaft_deg(round(cut_s * NANOSECONDS))
    stop(drive)
    return drive.stands().angles.shaft_deg - at_deg


def told(drive: Drive) -> None:
    drive.stop_at(NANOSECONDS // 2)


def cut(drive: Drive) -> None:
    drive.stop_at(NANOSECONDS // 2, powered=False)


@pytest.mark.parametrize("command", [Turn(300.0), Spin(200.0), Spin(-200.0)])
def test_a_motor_without_power_turns_on_further_than_one_that_is_braked(command: Turn | Spin):
    braking = gear_motor("brake")
    assert abs(run_out_deg(braking, command, cut)) > abs(run_out_deg(braking, command, told)) > 0.0


def test_a_driver_that_lets_go_at_the_end_of_a_turn_leaves_no_difference():
    coasting = gear_motor("coast")
    assert run_out_deg(coasting, Spin(200.0), cut) == run_out_deg(coasting, Spin(200.0), told)


def test_it_coasts_no_further_than_its_energy_lasts_against_friction_and_the_string_as_it_was():
    """Independent arithmetic: ``J w^2 / 2 = (friction + torque) angle``; the string's torque only grows on the way."""
    motor = gear_motor("brake")
    friction_nm = motor.run_current_a * motor.stall_torque_ref_nm / (motor.stall_current_a - motor.run_current_a)
    speed_rad_s = math.radians(motor.speed_ref_deg_s)  # no faster than without load, at a voltage below the reference
    assert motor.reference_v >= 6.0
    volt_s, nm_per_a = motor.reference_v / speed_rad_s, friction_nm / motor.run_current_a
    inertia = motor.time_constant_ms * 1e-3 * volt_s * nm_per_a * motor.stall_current_a / motor.reference_v
    bound_rad = 0.5 * inertia * speed_rad_s**2 / (friction_nm + built().turning_nm(START_N, 1))
    assert 0.0 < run_out_deg(motor, Spin(1e4), cut) <= math.degrees(bound_rad)


@pytest.mark.parametrize(
    ("rig", "command"), [("theory", Spin(50.0)), ("default", Turn(60.0)), ("geared-stepper", Turn(300.0))]
)
def test_motors_without_inertia_stand_at_once_either_way(rig: str, command: Turn | Spin):
    motor = load_rig(rig).motor.nominal()
    assert run_out_deg(motor, command, cut, 0.5) == run_out_deg(motor, command, told, 0.5)


def test_power_cut_for_one_stop_is_back_for_the_next():
    """Stops of several guards are tried on one run, from the last to the first."""

    def cut_later_then_told(drive: Drive) -> None:
        drive.stop_at(NANOSECONDS * 3 // 5, powered=False)
        told(drive)

    braking = gear_motor("brake")
    assert run_out_deg(braking, Spin(200.0), cut_later_then_told) == run_out_deg(braking, Spin(200.0), told)
