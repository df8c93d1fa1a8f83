"""A limit on how fast moves may grow."""

import math
from dataclasses import dataclass
from typing import Any, ClassVar

from controllers.base import altered
from controllers.wrappers.wrapper import Wrapper
from models.messages import Command, Reading, Spin, Turn


@dataclass(frozen=True, slots=True)
class Slew(Wrapper):
    """Let a turn, and a speed, exceed the one before by at most so much from one reading to the next.

    Law: ``|u_k| <= |u_(k-1)| + change`` if both go the same way, else ``|u_k| <= change``. A move is only ever
    shortened: it may become smaller, or end, at once. No move counts as one of 0.

    Fails when: the string starts far off: the first moves are short ones.
    """

    fresh: ClassVar[float] = 0.0

    turn_deg: float = math.inf
    """Largest growth of a turn."""
    spin_deg_s: float = math.inf
    """Largest growth of a speed."""

    def update(self, memory: tuple[float, Any], reading: Reading) -> tuple[Command, tuple[float, Any]]:
        """Return the inner command, shortened where it grew too fast."""
        last, inner = memory
        command, inner = self.inner.update(inner, reading)
        if isinstance(command, Turn):
            angle_deg = _grown(command.angle_deg, last, self.turn_deg)
            if angle_deg != command.angle_deg:
                inner = altered(self.inner, inner, angle_deg)
            return Turn(angle_deg), (angle_deg, inner)
        if isinstance(command, Spin):
            speed_deg_s = _grown(command.speed_deg_s, last, self.spin_deg_s)
            return Spin(speed_deg_s), (speed_deg_s, inner)
        return command, (0.0, inner)


def _grown(wanted: float, last: float, change: float) -> float:
    most = change + (abs(last) if wanted * last > 0.0 else 0.0)
    return max(-most, min(most, wanted))
