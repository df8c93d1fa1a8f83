"""Taking up play: a turn after a change of direction goes further by the lost motion."""

import math
from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple

from controllers.base import altered
from controllers.wrappers.wrapper import Wrapper
from models.messages import Command, Reading, Turn


class Taken(NamedTuple):
    """Direction of the last turn, and what was added to it."""

    way: float = 1.0
    added_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class TakeUp(Wrapper):
    """Add the drive's play to a turn that goes the other way than the one before.

    Law: ``turn + play * sign(turn)`` after a change of direction. Before the first turn the string counts as tightened,
    as it is when it was brought to pitch: then at worst the first loosening goes too far, and no tightening does.

    Fails when: the play is believed larger than it is: each reversal then goes too far by the difference.
    """

    fresh: ClassVar[Taken] = Taken()

    play_deg: float

    def update(self, memory: tuple[Taken, Any], reading: Reading) -> tuple[Command, tuple[Taken, Any]]:
        """Return the inner command, a turn back lengthened."""
        taken, inner = memory
        command, inner = self.inner.update(inner, reading)
        if not isinstance(command, Turn) or command.angle_deg == 0.0:
            return command, (taken, inner)
        way = math.copysign(1.0, command.angle_deg)
        added_deg = self.play_deg * way if way != taken.way else 0.0
        return Turn(command.angle_deg + added_deg), (Taken(way, added_deg), inner)

    def turned(self, memory: tuple[Taken, Any], angle_deg: float) -> tuple[Taken, Any]:
        """Hand on what was left of the last turn beyond the play."""
        taken, inner = memory
        useful_deg = angle_deg - taken.added_deg
        useful_deg = useful_deg if useful_deg * taken.way > 0.0 else 0.0
        return taken, altered(self.inner, inner, useful_deg)
