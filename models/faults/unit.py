"""The unit gives other commands than its controller meant."""

from dataclasses import replace
from typing import Annotated, Any, ClassVar, Final

from pydantic import Field

from models.component import component
from models.faults.base import RESET, Fault, Message, Moment, Place, ReadingNumber, Seam, scaled
from models.messages import LISTEN, Spin, Turn

GONE: Final = "done"


@component
class Hang(Fault):
    """The unit hangs with its last command held.

    Law: no command after it: a turn is finished, a spin goes on.

    Fails when: a watchdog resets the unit.

    Source: common practice of fault injection.
    """

    from_reading: ReadingNumber = 3
    """First reading that is not answered, from 1."""

    seam: ClassVar[Seam] = "command"
    takes_out: ClassVar[frozenset[Place]] = frozenset({"firmware"})

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return no command."""
        del message, moment
        return LISTEN, state


@component
class RepeatedCommand(Fault):
    """A command is carried out twice.

    Law: ``turn = 2 turn``; a speed that is told twice stays what it is.

    Fails when: commands carry numbers, and the driver drops one that it knows.

    Source: resend without sequence number, common practice of fault injection.
    """

    seam: ClassVar[Seam] = "command"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return a turn doubled."""
        del moment
        return (scaled(message, 2.0) if isinstance(message, Turn) else message), state


@component
class LateCommand(Fault):
    """Each command is carried out one reading late.

    Law: ``command_k = command_(k-1)`` of the controller.

    Fails when: the driver drops commands that are too old.

    Source: a queue on the link, common practice of fault injection.
    """

    seam: ClassVar[Seam] = "command"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the command before."""
        del moment
        return (LISTEN if state is None else state), message

    def notes(self, message: Message, state: Any) -> Any:
        """Remember the last command."""
        del state
        return message


@component
class Overflow(Fault):
    """A number of a command does not fit its integer and wraps around.

    Law: ``n = round(turn / step)``, read as a signed integer of so many bits.

    Fails when: the arithmetic saturates, or the integer is wide enough.

    Source: two's complement.
    """

    step_deg: Annotated[float, Field(ge=1e-9, le=360)] = 0.001
    """Angle, or speed in degrees a second, of one unit of the integer. Milli-degrees are usual."""

    bits: Annotated[int, Field(ge=4, le=64)] = 16
    """Width of the integer with its sign."""

    seam: ClassVar[Seam] = "command"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the command as the integer has it."""
        del moment
        if isinstance(message, Turn):
            return replace(message, angle_deg=self._wrapped(message.angle_deg)), state
        if isinstance(message, Spin):
            return replace(message, speed_deg_s=self._wrapped(message.speed_deg_s)), state
        return message, state

    def _wrapped(self, value: float) -> float:
        half: int = 1 << (self.bits - 1)
        return ((round(value / self.step_deg) + half) % (2 * half) - half) * self.step_deg


@component
class PowerLoss(Fault):
    """The unit loses its supply once in mid-tuning and starts again with nothing remembered.

    Law: motion stops, memory is what it is at the start.

    Fails when: the unit keeps state in a memory that outlives its supply.

    Source: common practice of fault injection.
    """

    from_reading: ReadingNumber = 4
    """Reading at which it happens, from 1."""

    seam: ClassVar[Seam] = "command"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return a reset, the first time."""
        del moment
        return (message, GONE) if state == GONE else (RESET, GONE)
