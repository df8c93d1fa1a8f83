"""The knob turns less, or otherwise, than the motor was told."""

from typing import Annotated, Any, ClassVar

from pydantic import Field

from models.component import Share, component
from models.faults.base import Fault, Message, Moment, Seam, scaled
from models.messages import Turn


@component
class CouplerSlips(Fault):
    """The coupler slips for some turns, then grips again with what it was twisted by.

    Law: the first ``slips`` turns do nothing; the next one turns by ``lurch_deg`` more, in its direction.

    Fails when: it is a coupler that gives way by torque; that one is part of the rig.

    Source: estimate.
    """

    slips: Annotated[int, Field(ge=1, le=1000)] = 3
    """Turns that it slips."""

    lurch_deg: Annotated[float, Field(ge=0, le=3600)] = 60.0
    """By how much more it turns when it grips again. A flat of a socket is 60 to 90 degrees."""

    seam: ClassVar[Seam] = "drive"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return no turn while it slips, and one too large when it grips."""
        del moment
        turns = state or 0
        if not isinstance(message, Turn):
            return message, turns
        if turns < self.slips:
            return scaled(message, 0.0), turns + 1
        if turns == self.slips and message.angle_deg:
            return scaled(message, 1.0 + self.lurch_deg / abs(message.angle_deg)), turns + 1
        return message, turns + 1


@component
class MissedSteps(Fault):
    """The motor loses part of each turn.

    Law: ``turn = (1 - lost) turn``.

    Fails when: the motor loses steps only under load; here each turn loses the same share.

    Source: estimate.
    """

    lost: Share = 0.5
    """Share of each turn that does not happen. Count turns against a mark."""

    seam: ClassVar[Seam] = "drive"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return what is left of a move."""
        del moment
        return scaled(message, 1.0 - self.lost), state


@component
class TravelEnd(Fault):
    """The shaft meets a stop that the machine does not know of.

    Law: the sum of turns since it acts stays at or below ``room_deg``.

    Fails when: the motor breaks through the stop.

    Source: estimate.
    """

    room_deg: Annotated[float, Field(ge=0, le=36000)] = 10.0
    """How far the shaft can tighten before it meets the stop."""

    seam: ClassVar[Seam] = "drive"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return a turn that ends at the stop."""
        del moment
        stands = state or 0.0
        if not isinstance(message, Turn):
            return message, stands
        turned = min(message.angle_deg, self.room_deg - stands)
        return Turn(turned), stands + turned
