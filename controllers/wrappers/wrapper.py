"""What rules that go around a controller share: an inner controller, and a memory of their own beside its."""

from dataclasses import dataclass
from typing import Any, ClassVar

from controllers.base import Controller, altered
from models.messages import Task


@dataclass(frozen=True, slots=True)
class Wrapper:
    """A controller around another one; its memory is a pair, its own and the inner one's."""

    fresh: ClassVar[Any] = None
    """Its own memory before the first reading."""

    inner: Controller

    def start(self, task: Task, kept: Any = None) -> tuple[Any, Any]:
        """Return both memories before the first reading."""
        return self.fresh, self.inner.start(task, kept)

    def turned(self, memory: tuple[Any, Any], angle_deg: float) -> tuple[Any, Any]:
        """Hand on that the last turn was altered."""
        own, inner = memory
        return own, altered(self.inner, inner, angle_deg)
