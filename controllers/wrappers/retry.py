"""What to do when a window brought no pitch."""

from dataclasses import dataclass
from typing import Any, ClassVar

from controllers.wrappers.wrapper import Wrapper
from models.messages import PLUCK, Command, GiveUp, Reading


@dataclass(frozen=True, slots=True)
class Retry(Wrapper):
    """Stop and ask for a fresh pluck after a missed reading; give up after too many in a row.

    Fails when: the ear is deaf to this string; the run then ends with *gave up*.
    """

    fresh: ClassVar[int] = 0
    """Readings missed in a row."""

    most_missed: int

    def update(self, memory: tuple[int, Any], reading: Reading) -> tuple[Command, tuple[int, Any]]:
        """Return the inner command for a heard reading, else pluck or give up."""
        missed, inner = memory
        command, inner = self.inner.update(inner, reading)
        if reading.cents is not None:
            return command, (0, inner)
        if missed + 1 > self.most_missed:
            return GiveUp(f"{missed + 1} readings in a row were not heard"), (missed + 1, inner)
        return PLUCK, (missed + 1, inner)
