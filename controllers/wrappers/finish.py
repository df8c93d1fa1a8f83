"""The finish rule, made from the task."""

from dataclasses import dataclass
from typing import Any, ClassVar

from controllers.wrappers.wrapper import Wrapper
from models.messages import DONE, Command, Listen, Reading, Stop


@dataclass(frozen=True, slots=True)
class Finish(Wrapper):
    """Stop when enough readings in a row lie inside the tolerance and the controller asks for no move.

    Fails when: the readings share an error; the machine then finishes out of tune and cannot know.
    """

    fresh: ClassVar[int] = 0
    """Readings counted."""

    tolerance_cents: float
    readings: int

    def update(self, memory: tuple[int, Any], reading: Reading) -> tuple[Command, tuple[int, Any]]:
        """Return the inner command, or done."""
        count, inner = memory
        command, inner = self.inner.update(inner, reading)
        inside = reading.cents is not None and abs(reading.cents) <= self.tolerance_cents
        still = isinstance(command, Listen | Stop) and not reading.moving
        if reading.cents is None and still:
            return command, (count, inner)
        count = count + 1 if inside and still else 0
        return (DONE if count >= self.readings else command), (count, inner)
