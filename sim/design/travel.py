"""How far the shaft has to turn, against how far it can between two grips."""

import math
from typing import Final, NamedTuple

from models.units import shifted
from sim.build import Rig
from sim.design.torque import tension_at_pitch_n

SEMITONE_CENTS: Final = 100.0


class Travel(NamedTuple):
    """Turns of the shaft in degrees, and what the motor has for them."""

    semitone_deg: float
    """From a semitone flat to the target, after what is lost at a change of direction."""
    slack_deg: float
    """From slack to the target."""
    reversal_deg: float
    """Lost at a change of direction: slop, and what nut and saddle take up."""
    first_stroke_deg: float
    """Left of the travel before the first re-grip."""
    stroke_deg: float
    regrip: bool

    def regrips(self, turn_deg: float) -> int | None:
        """Return the re-grips in a tightening turn, None where they are not allowed but needed."""
        if turn_deg <= self.first_stroke_deg:
            return 0
        return math.ceil((turn_deg - self.first_stroke_deg) / self.stroke_deg) if self.regrip else None


def travel_of(rig: Rig) -> Travel:
    """Return the travel of one string."""
    chain, motor, tension = rig.chain, rig.machine.motor, tension_at_pitch_n(rig)
    flat_n = chain.string.tension_at_hz(shifted(chain.string.target_hz, -SEMITONE_CENTS))
    knob_per_n = chain.ratio / chain.newton_per_deg
    lost = 2.0 * chain.half_slop_deg + chain.reversal_deg(tension)
    return Travel(
        semitone_deg=lost + (tension - flat_n) * knob_per_n,
        slack_deg=tension * knob_per_n,
        reversal_deg=lost,
        first_stroke_deg=motor.stroke_deg() - motor.rest().angle_deg,
        stroke_deg=motor.stroke_deg(),
        regrip=rig.machine.regrip,
    )
