"""Energy and charge of a run: what turns, what holds, and the unit."""

import pytest
from pytest import approx

from models.battery import Battery
from models.motors.base import charge_c
from scenarios.load import load_text
from sim.corners import course
from sim.evaluate import record_of
from sim.loop import Record
from sim.metrics import measured

RIG = (
    'format = 1\n[motor]\npart = "stepper-plain"\nhold = {hold}\n[supply]\npart = "{supply}"\n'
    '[unit]\npart = "own-supply"\ncurrent_a = {unit_a}\n[strategies.fine]\nkind = "proportional"\n'
    "gain_deg_per_cent = 1.5\ndeadband_cents = 1.5\n"
)


def ran(hold: str = "false", unit_a: float = 0.0, supply: str = "bench-6v") -> Record:
    return record_of(load_text(RIG.format(hold=hold, unit_a=unit_a, supply=supply), "my.toml"), "fine", "E2")


def seconds_turning(record: Record) -> float:
    stretches = record.instrument.paths["E2"].stretches
    return sum(min(each.end_ns, record.end_ns) - each.start_ns for each in stretches) * 1e-9


def test_a_motor_that_lets_go_draws_only_while_it_turns() -> None:
    """To the nanosecond to which pieces are rounded."""
    record = ran()
    stretches = record.instrument.paths["E2"].stretches
    turning_c = sum(charge_c(each.piece, (each.end_ns - each.start_ns) * 1e-9) for each in stretches)
    found = measured(course(record))
    assert found["charge_c"] == approx(turning_c, rel=1e-7)
    assert found["energy_j"] == approx(6.0 * turning_c, rel=1e-7)


@pytest.mark.parametrize("unit_a", [0.0, 0.05])
def test_holding_and_the_unit_go_on_all_the_time(unit_a: float) -> None:
    """Charge is current times time: the motor's holding current at rest, the unit's until the end."""
    record, plain = ran("true", unit_a), measured(course(ran()))
    found, machine = measured(course(record)), record.rig.machine
    resting_s = found["seconds"] - seconds_turning(record)
    rest_a = machine.motor.rest_current_a(machine.supply.source(0.0))
    more_c = rest_a * resting_s + unit_a * found["seconds"]
    assert rest_a > 0.0
    assert found["charge_c"] == approx(plain["charge_c"] + more_c, rel=1e-9)


def test_the_battery_has_given_what_the_run_drew() -> None:
    """The last motion's voltage is that of the battery after all that was counted before it."""
    record = ran("true", 0.05, "9v-fresh")
    last = record.instrument.paths["E2"].stretches[-1]
    supply = record.rig.machine.supply
    assert isinstance(supply, Battery)
    end = supply.source(measured(course(record))["charge_c"])
    assert end.voltage_v < last.piece.source.voltage_v < supply.source(0.0).voltage_v
