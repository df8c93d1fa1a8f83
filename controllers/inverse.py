"""Model inverse: the one turn that, by the tension map of a string, leads to the target."""

from typing import ClassVar

from controllers.base import Memoryless
from controllers.belief import turn_to_target_deg
from models.component import NonNegative, component
from models.messages import LISTEN, Command, Reading, Turn


@component
class Inverse(Memoryless):
    """Turn at once by what the tension map of the string asks for, then listen.

    Law: ``turn = T (1 - 2^(cents/600)) / (k r)`` with the tension ``T`` at the target and ``k r`` newtons per radian
    of the shaft. Both enter by one belief, for the slope at the target is ``G = 600 / ln 2 * k r / T``. A turn
    leaves the share ``|1 - G / believed|`` of an error; the loop converges for a true slope below twice the believed.
    The rig tells its slope with each range at its middle; without any belief nothing moves.

    Fails when: the believed slope is wrong by half, or a wrong reading is believed: one octave error asks for a turn
    that may break the string, so clamp the largest move.

    Source: frequency as the root of tension (Mersenne), tension in proportion to winding; independent arithmetic.
    """

    asks: ClassVar[frozenset[type]] = frozenset({Turn})

    believed_cents_per_deg: NonNegative
    """Slope of pitch over the shaft's angle at pitch; 0 = told by the rig. Turn by 10 degrees and divide the cents."""

    deadband_cents: NonNegative
    """Half-width of the band in which the controller does nothing."""

    def update(self, memory: None, reading: Reading) -> tuple[Command, None]:
        """Return the turn to the target."""
        del memory
        resting = reading.cents is None or abs(reading.cents) <= self.deadband_cents
        if reading.cents is None or resting or self.believed_cents_per_deg == 0.0:
            return LISTEN, None
        return Turn(turn_to_target_deg(reading.cents, self.believed_cents_per_deg)), None
