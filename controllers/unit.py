"""The unit: a controller lifted into a machine that can be switched on, lose power and be switched off."""

from typing import Any, Protocol

from controllers.base import Controller
from models.messages import Command, Reading, Task


class Unit(Protocol):
    """What the loop talks to."""

    def open(self, task: Task) -> None:
        """Switch on with a task."""
        ...

    def update(self, reading: Reading) -> Command:
        """Answer one reading."""
        ...

    def power_lost(self) -> None:
        """Forget what does not survive, and start again."""
        ...

    def close(self) -> None:
        """Switch off."""
        ...


class ControllerUnit:
    """Holds the memory of a pure controller, which forgets everything when power is lost."""

    def __init__(self, controller: Controller) -> None:
        self._controller = controller
        self._task: Task | None = None
        self._memory: Any = None

    def open(self, task: Task) -> None:
        """Start the controller."""
        self._task = task
        self._memory = self._controller.start(task)

    def update(self, reading: Reading) -> Command:
        """Answer one reading."""
        command, self._memory = self._controller.update(self._memory, reading)
        return command

    def power_lost(self) -> None:
        """Start the controller anew, with nothing kept."""
        if self._task is not None:
            self._memory = self._controller.start(self._task)

    def close(self) -> None:
        """Drop the memory."""
        self._memory = None
