"""For how long a motor's current must be too high: longer than a start, by the closed form of the surge."""

import math

import pytest

from controllers.guards.motor_current import MotorCurrent
from scenarios.load import load_rig
from sim.build import build
from sim.design.current_limit import OUTLASTS, SHORTEST_S, steady_a, surge_s
from sim.design.guard_limits import limits
from sim.design.healthy import healthy_nm, starts
from sim.evaluate import Bench
from sim.series.row import Item
from sim.trace import Outcome

GEAR_MOTOR = load_rig("gear-motor", changes=['guards.g.kind="motor-current"'])


def test_a_surge_is_over_when_the_current_of_a_start_has_fallen_to_the_limit():
    """A start draws the stall current ``U / R``, which falls exponentially: between limits ``a`` and ``b`` above the
    steady current lies the time ``ln(a / b) / rate``, so that equal ratios take equal times."""
    rig = build(GEAR_MOTOR, "E2")
    motor, source = rig.machine.motor, rig.machine.supply.source(0.0)
    torque_nm = healthy_nm(rig.chain, starts(GEAR_MOTOR)[1])
    steady = steady_a(motor, source, torque_nm)
    lasts = [surge_s(motor, source, torque_nm, steady + above) for above in (0.08, 0.04, 0.02)]
    assert lasts[2] - lasts[1] == pytest.approx(lasts[1] - lasts[0], rel=1e-3)
    assert lasts[0] < lasts[1]
    assert surge_s(motor, source, torque_nm, 1e3) == 0.0
    assert surge_s(motor, source, torque_nm, 0.5 * steady) == 0.0


@pytest.mark.parametrize("string", ["E2", "E4"])
def test_a_current_must_last_longer_than_a_start_and_no_less_than_the_shortest(string: str):
    guard = limits(GEAR_MOTOR, GEAR_MOTOR.strategies[0], string)["motor-current"].guard
    assert isinstance(guard, MotorCurrent)
    rig = build(GEAR_MOTOR, string)
    torque_nm = healthy_nm(rig.chain, starts(GEAR_MOTOR)[1])
    start_s = surge_s(rig.machine.motor, rig.machine.supply.source(0.0), torque_nm, guard.most_a)
    assert math.isclose(guard.hold_s, OUTLASTS * start_s)
    servo = limits(load_rig("default"), GEAR_MOTOR.strategies[0], "E2")["motor-current"].guard
    assert isinstance(servo, MotorCurrent)
    assert servo.hold_s == SHORTEST_S  # a servo's model has no surge


def test_no_start_of_a_sound_gear_motor_trips_its_current_guard():
    bench = Bench((GEAR_MOTOR,), 1)
    records = [bench.record(Item(0, 0, string, specimen, 0)) for string in range(6) for specimen in range(3)]
    assert [record.outcome for record in records if record.outcome is Outcome.GUARD_TRIPPED] == []
