"""Another sound is taken for the string."""

from typing import Annotated, Any, ClassVar

from pydantic import Field

from models.component import Share, component
from models.faults.base import Fault, Message, Moment, Seam, first_heard, heard_at
from models.messages import Estimate
from models.units import shifted

Offset = Annotated[float, Field(ge=-4800, le=4800)]


@component
class NeighbourString(Fault):
    """A neighbour that rings along is louder than the string.

    Law: ``f_read = first reading * 2^(cents/1200)``: it follows no turn.

    Fails when: the neighbour is damped, or lies outside what the acceptance lets pass.

    Source: sympathetic vibration; half of all readings is an estimate.
    """

    cents: Offset = -500.0
    """Where the neighbour sounds, from where the string began. A fourth is 500 cents."""

    probability: Share = 0.5
    """Share of readings that hear the neighbour, 0 to 1. Mute it and compare."""

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the neighbour's pitch."""
        del moment
        kept = self.notes(message, state)
        return message if kept is None else heard_at(kept, 2.0 ** (self.cents / 1200.0)), kept

    def notes(self, message: Message, state: Any) -> Any:
        """Remember the first estimate that heard something."""
        return first_heard(message, state)


@component
class MotorNoise(Fault):
    """A tone of motor and gear is taken for the pitch.

    Law: ``f_read = first reading * 2^((cents + spread (2 draw - 1))/1200)``.

    Fails when: the microphone is muted while the motor turns.

    Source: estimate.
    """

    cents: Offset = -90.0
    """Where the tone lies, from where the string began. Record the motor and look."""

    spread_cents: Annotated[float, Field(ge=0, le=4800)] = 35.0
    """How far the tone wanders to either side."""

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the motor's tone."""
        kept = self.notes(message, state)
        if kept is None:
            return message, kept
        draw = moment.draw / max(self.probability, 1e-9)
        pitch_hz = shifted(kept.pitch_hz, self.cents + self.spread_cents * (2.0 * draw - 1.0))
        return Estimate(pitch_hz, kept.periodicity), kept

    def notes(self, message: Message, state: Any) -> Any:
        """Remember the first estimate that heard something."""
        return first_heard(message, state)
