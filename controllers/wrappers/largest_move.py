"""A clamp on single turns."""

from dataclasses import dataclass
from typing import Any

from controllers.base import Controller, altered
from models.messages import Command, Reading, Task, Turn


@dataclass(frozen=True, slots=True)
class LargestMove:
    """Shorten any turn to at most an angle.

    Fails when: the angle lies beyond the string's reserve; a wrong reading can then still break it.
    """

    inner: Controller
    angle_deg: float

    def start(self, task: Task, kept: Any = None) -> Any:
        """Return the inner memory."""
        return self.inner.start(task, kept)

    def update(self, memory: Any, reading: Reading) -> tuple[Command, Any]:
        """Return the inner command, a turn shortened."""
        command, memory = self.inner.update(memory, reading)
        if isinstance(command, Turn) and abs(command.angle_deg) > self.angle_deg:
            command = Turn(self.angle_deg if command.angle_deg > 0 else -self.angle_deg)
            memory = altered(self.inner, memory, command.angle_deg)
        return command, memory

    def turned(self, memory: Any, angle_deg: float) -> Any:
        """Hand on that the last turn was altered."""
        return altered(self.inner, memory, angle_deg)
