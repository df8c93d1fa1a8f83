"""The machine listens to, or aims at, something else than was meant."""

from typing import Annotated, Any, ClassVar

from pydantic import Field

from models.component import component
from models.faults.base import Fault, Message, Moment, Seam, first_heard, heard_at


@component
class WrongString(Fault):
    """The string that is plucked is not the one that the motor turns.

    Law: ``f_read = first reading``: no turn changes it.

    Fails when: the body is soft, so that every string answers a little to every peg.

    Source: common practice of fault injection.
    """

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the pitch of the string that is plucked."""
        del moment
        kept = first_heard(message, state)
        return message if kept is None else kept, kept

    def notes(self, message: Message, state: Any) -> Any:
        """Remember the first estimate that heard something."""
        return first_heard(message, state)


@component
class WrongTarget(Fault):
    """The machine was told another note than the string's.

    Law: ``f_read / f_target`` is what it would be ``cents`` lower.

    Fails when: the note is so far off that the acceptance hears nothing.

    Source: a neighbour in fourths, common practice.
    """

    cents: Annotated[float, Field(ge=-2400, le=2400)] = 500.0
    """How far the note that was told lies above the string's. A fourth is 500."""

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the estimate as it looks from the wrong target."""
        del moment
        return heard_at(message, 2.0 ** (-self.cents / 1200.0)), state


@component
class WrongReference(Fault):
    """The machine believes another reference pitch.

    Law: ``f_read / f_target`` is what it would be times ``true_hz / believed_hz``.

    Fails when: never, it is only arithmetic.

    Source: 440 Hz is ISO 16:1975; 415 Hz is usual for old music, common practice.
    """

    true_hz: Annotated[float, Field(ge=300, le=600)] = 415.0
    """Pitch of A4 that the players meant."""

    believed_hz: Annotated[float, Field(ge=300, le=600)] = 440.0
    """Pitch of A4 that the machine was told."""

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the estimate as it looks from the wrong reference."""
        del moment
        return heard_at(message, self.true_hz / self.believed_hz), state
