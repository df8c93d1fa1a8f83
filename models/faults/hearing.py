"""The hearing hands on no news: an old value, nothing, or noise."""

from typing import Any, ClassVar

from models.component import Share, component
from models.faults.base import Fault, Message, Moment, Seam
from models.messages import Estimate
from models.units import shifted

LOWEST_HZ, OCTAVES = 40.0, 5.0  # where the pitch of noise may lie


@component
class StuckReading(Fault):
    """The last value heard comes again and again with a new time.

    Law: ``estimate_k = estimate_(first - 1)``; acting from the first reading on, the first one comes again.

    Fails when: the buffer is frozen in its middle, and the detector sees a joint.

    Source: frozen buffer or unplugged microphone, common practice of fault injection.
    """

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the estimate that came before it acted."""
        del moment
        kept = self.notes(message, None) if state is None else state
        return message if kept is None else kept, kept

    def notes(self, message: Message, state: Any) -> Any:
        """Remember the last estimate that heard something."""
        assert isinstance(message, Estimate)
        return state if message.pitch_hz is None else message


@component
class NothingHeard(Fault):
    """No reading comes: no pluck, or a microphone without supply.

    Law: not heard.

    Fails when: a silent microphone still picks up hum.

    Source: common practice of fault injection.
    """

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return an estimate that heard nothing."""
        del message, moment
        return Estimate(None, 0.0), state


@component
class ConverterBlind(Fault):
    """The converter gives noise, and the detector finds a pitch in it.

    Law: the pitch lies anywhere between 40 and 1280 Hz, evenly in cents, with a periodicity near that of noise.

    Fails when: noise has a colour, which draws the pitch to one place.

    Source: estimate.
    """

    periodicity: Share = 0.2
    """Periodicity that the detector gives noise, 0 to 1. Log it with the microphone unplugged."""

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return a pitch that comes from noise."""
        del message
        octaves = OCTAVES * moment.draw / max(self.probability, 1e-9)
        return Estimate(shifted(LOWEST_HZ, 1200.0 * octaves), self.periodicity), state
