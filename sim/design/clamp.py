"""What a largest move forbids, in closed form: turns too small to break the string, alone or all together."""

from dataclasses import dataclass
from typing import Final

from models.component import resolve
from models.motors import MOTORS
from models.units import shifted
from scenarios.schema import Scenario, Strategy
from sim.build import drawn
from sim.design.extremes import worst
from sim.design.healthy import starts
from sim.specimen import Draw

MARGIN: Final = 1.05  # for the motor's steps and rounding (estimate)
POSITIONED: Final = ("ideal", "servo", "stepper")  # they turn no further than told; timed and coasting ones may


@dataclass(frozen=True, slots=True)
class Clamp:
    """What a string spares, and what single and all turns of a run may take of it."""

    spare_deg: float
    """Least turn of the shaft that breaks it from the highest pitch, in the worst corner of the rig's ranges."""
    move_deg: float
    """Largest turn of one reading."""
    turns: int
    """Most readings, and so turns, of a run."""

    @property
    def forbids_all(self) -> bool:
        """Whether all turns of a run together break nothing, whatever is read."""
        return MARGIN * self.turns * self.move_deg < self.spare_deg

    @property
    def forbids_one(self) -> bool:
        """Whether one turn from the highest pitch breaks nothing, whatever is read."""
        return MARGIN * self.move_deg < self.spare_deg


def clamp(scenario: Scenario, strategy: Strategy, string: str) -> Clamp | None:
    """Return what the largest move of a strategy forbids on a string; None where turns may be longer than told.

    The highest pitch is that of the highest start, or the target. Held back by nut and saddle, a string breaks at a
    tension that is lower on average: by all that both can hold.
    """
    exact = scenario.motor.kind in [resolve(MOTORS, name) for name in POSITIONED]
    driving = strategy.drivings[string].nominal()
    if not exact or driving.driving == "turning" or scenario.heads[string].values["tightens"] == "unknown":
        return None
    high = max(0.0, starts(scenario)[1])
    spare = worst(lambda draw: (_spare_deg(scenario, string, draw, high),))[0].worst
    turns = scenario.task.pluck_limit * driving.readings_per_pluck
    return Clamp(max(0.0, spare), driving.largest_move_deg, turns)


def _spare_deg(scenario: Scenario, string: str, draw: Draw, high_cents: float) -> float:
    chain = drawn(scenario, string, draw, scenario.ears[string].drawn(draw)).chain
    grip = chain.friction.nut_static * chain.friction.saddle_static if chain.friction else 1.0
    begins_n = chain.string.tension_at_hz(shifted(chain.string.target_hz, high_cents))
    return (chain.string.breaking_n / grip - begins_n) * chain.ratio / chain.newton_per_deg
