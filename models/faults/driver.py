"""The motor's driver does other things than it is told."""

from typing import Annotated, Any, ClassVar, Final

from pydantic import Field

from models.component import component
from models.faults.base import Fault, Message, Moment, ReadingNumber, Seam, scaled
from models.messages import Spin, Turn

FAR_DEG: Final = 1e5  # further than any string lets a shaft turn


@component
class ReversedSign(Fault):
    """The motor turns the other way: swapped wires, or a wrong sign.

    Law: ``turn = -turn``.

    Fails when: the machine finds out first which way its knob tightens.

    Source: common practice of fault injection.
    """

    seam: ClassVar[Seam] = "drive"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the command the other way round."""
        del moment
        return scaled(message, -1.0), state


@component
class Runaway(Fault):
    """The driver is shorted: the motor turns up, whatever it is told.

    Law: full turn tightening, up to the end of travel, a stall or the string's end.

    Fails when: the drive is a positional servo, whose travel ends the turn.

    Source: shorted output transistor, common practice of fault injection.
    """

    from_reading: ReadingNumber = 3
    """First reading after which it turns, from 1."""

    speed_deg_s: Annotated[float, Field(gt=0, le=1e5)] = 360.0
    """Speed that a motor is told that takes speeds. More than it can."""

    seam: ClassVar[Seam] = "drive"
    unasked: ClassVar[bool] = True

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return a move without end."""
        del message
        return (Turn(FAR_DEG) if Turn in moment.accepts else Spin(self.speed_deg_s)), state


@component
class PowerUpJump(Fault):
    """A positional drive jumps when it is switched on.

    Law: a turn of ``jump_deg`` before the first reading; motors that take speeds only do not jump.

    Fails when: the driver is enabled only once it knows where the shaft stands.

    Source: a servo goes to its middle at power-up, common practice; the angle is an estimate.
    """

    from_reading: ReadingNumber = 0
    """0: when the machine is switched on."""

    jump_deg: Annotated[float, Field(ge=-3600, le=3600)] = 90.0
    """How far it jumps, positive = tightening. Half of its travel at most."""

    seam: ClassVar[Seam] = "drive"
    unasked: ClassVar[bool] = True

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the jump when the machine is switched on."""
        jumps = moment.reading == 0 and Turn in moment.accepts
        return (Turn(self.jump_deg) if jumps else message), state
