"""A clamp on single turns."""

from dataclasses import dataclass
from typing import Any

from controllers.base import Controller
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
        return command, memory
