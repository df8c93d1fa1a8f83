"""What one tuning takes from the supply, and how many a charge gives."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from models.battery import COULOMB_PER_AH, Battery
from models.messages import Source
from scenarios.schema import Range, Scenario
from sim.build import Rig, drawn
from sim.design.strung import gives_m_n
from sim.design.supplies import at_charge
from sim.design.torque import tension_at_pitch_n, torques_nm
from sim.design.travel import travel_of
from sim.design.turning import turning
from sim.specimen import Draw

HALVINGS: Final = 30  # that find the charge at which the motor no longer starts
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
    if math.isinf(turn.seconds):
        return math.inf
    waiting_s = (scenario.task.finish_readings + 1) * rig.player.pluck_s
    waiting_s += (travel.regrips(angle) or 0) * rig.player.regrip_s
    at_rest_a = motor.rest_current_a(source) + rig.power.current_a
    return turn.charge_c + rig.power.current_a * turn.seconds + at_rest_a * waiting_s


@dataclass(frozen=True, slots=True)
class Life:
    """What a battery gives, as fresh as the rig lets it be."""

    usable_c: float
    """Charge in coulombs up to where the motor no longer starts on some string, or the battery is empty."""
    tuning_c: float
    """Charge of one tuning of all strings."""

    def tunings(self) -> float:
        """Return how many tunings of all strings it gives."""
        return self.usable_c / self.tuning_c if self.tuning_c > 0.0 else math.inf


def life(scenario: Scenario, draw: Draw) -> Life | None:
    """Return the life of a battery where ``draw`` says what the ranges hold; None for a supply that does not tire."""
    if scenario.supply.kind is not Battery:
        return None
    battery: Battery = scenario.supply.drawn(at_charge(draw, 1.0))
    rigs = [
        drawn(scenario, string, draw, scenario.ears[string].drawn(draw), give)
        for string, give in gives_m_n(scenario, draw).items()
    ]
    most_nm = max(torques_nm(rig)[0] for rig in rigs)
    usable_c = _usable_c(battery, lambda source: rigs[0].machine.motor.starting_torque_nm(source) > most_nm)
    halfway = battery.source(usable_c / 2.0)
    return Life(usable_c, sum(tuning_c(scenario, rig, halfway) for rig in rigs))


def _usable_c(battery: Battery, starts: Callable[[Source], bool]) -> float:
    """Return the charge that can be drawn while the motor starts, by halving."""
    whole_c = battery.charge_share * battery.capacity_ah * COULOMB_PER_AH
    if starts(battery.source(whole_c)):
        return whole_c
    low_c, high_c = 0.0, whole_c
    for _ in range(HALVINGS):
        middle_c = (low_c + high_c) / 2.0
        low_c, high_c = (middle_c, high_c) if starts(battery.source(middle_c)) else (low_c, middle_c)
    return low_c
