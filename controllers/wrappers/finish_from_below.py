"""The last approach upwards: a string that was loosened is tightened again before it counts as tuned."""

from dataclasses import dataclass
from typing import Any, ClassVar

from controllers.base import altered
from controllers.wrappers.wrapper import Wrapper
from models.messages import Command, Done, Listen, Reading, Stop, Turn


@dataclass(frozen=True, slots=True)
class FinishFromBelow(Wrapper):
    """Loosen further than asked, so that the controller has to come back up; do not rest after a loosening.

    Law: a turn below 0 goes on by ``below_deg``; where the controller would rest and the last turn loosened, loosen by
    ``below_deg`` once more. Spins are left as they are.

    Fails when: readings come later than the next decision; or the angle is not above the play, and is spent in it; or
    the law overshoots, coming up, by more than its band: it then goes down again for ever. Nut friction lets a string
    that was tightened last drift sharp.
    """

    fresh: ClassVar[bool] = False
    """Whether the last turn loosened."""

    below_deg: float

    def update(self, memory: tuple[bool, Any], reading: Reading) -> tuple[Command, tuple[bool, Any]]:
        """Return the inner command, loosened further."""
        loosened, inner = memory
        command, inner = self.inner.update(inner, reading)
        if isinstance(command, Turn) and command.angle_deg != 0.0:
            return self._turned(command, inner)
        resting = isinstance(command, Listen | Stop | Done) and not reading.moving and reading.cents is not None
        if loosened and resting:
            return Turn(-self.below_deg), (True, altered(self.inner, inner, -self.below_deg))
        return command, (loosened, inner)

    def _turned(self, command: Turn, inner: Any) -> tuple[Command, tuple[bool, Any]]:
        if command.angle_deg > 0.0:
            return command, (False, inner)
        angle_deg = command.angle_deg - self.below_deg
        return Turn(angle_deg), (True, altered(self.inner, inner, angle_deg))
