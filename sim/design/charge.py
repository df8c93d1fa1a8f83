"""What one tuning takes from the supply, and how many a charge gives."""

from typing import Final

from models.messages import Source
from scenarios.schema import Range, Scenario
from sim.build import Rig
from sim.design.torque import tension_at_pitch_n, torques_nm
from sim.design.travel import travel_of
from sim.design.turning import turning

COUNTED: Final = (
    "Counted for each string: one tightening turn over the mean distance from which strings start, re-grips, and the "
    "plucks of the finishing readings and of one before them; the motor's current while it turns (and at rest where it "
    "holds), the unit's own all the time."
)


def mean_start_cents(scenario: Scenario) -> float:
    """Return how far off strings start on average, without the sign."""
    start = scenario.setting.values["start_cents"]
    if not isinstance(start, Range):
        return abs(float(str(start)))
    if start.low * start.high >= 0.0:
        return abs(start.low + start.high) / 2.0
    return (start.low**2 + start.high**2) / (2.0 * (start.high - start.low))


def tuning_c(scenario: Scenario, rig: Rig, source: Source) -> float:
    """Return the charge of one tuning of one string in coulombs; infinite where the motor cannot turn the knob."""
    travel, slope = travel_of(rig), rig.chain.cents_per_knob_deg(tension_at_pitch_n(rig))
    angle = travel.reversal_deg + mean_start_cents(scenario) / slope
    motor, turn = rig.machine.motor, turning(rig.machine.motor, angle, max(0.0, torques_nm(rig)[0]), source)
    waiting_s = (scenario.task.finish_readings + 1) * rig.player.pluck_s
    waiting_s += (travel.regrips(angle) or 0) * rig.player.regrip_s
    at_rest_a = motor.rest_current_a(source) + rig.power.current_a
    return turn.charge_c + rig.power.current_a * turn.seconds + at_rest_a * waiting_s
