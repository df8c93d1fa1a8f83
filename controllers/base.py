"""The contract of controllers: frozen parameters, explicit memory, no clock, no randomness."""

import math
from typing import Any, Protocol, get_args

from models.messages import Command, Reading, Task

COMMANDS = frozenset(get_args(Command))


class Controller(Protocol):
    """What every controller offers.

    ``update`` is called once per window, heard or not. It returns a command and the memory for the next call; it must
    not keep anything else. A class may say which motor commands it gives with ``asks``, a set of ``Turn`` and ``Spin``;
    a rig whose motor does not accept them is refused before the run. One that learns from its turns may offer
    ``turned(memory, angle_deg) -> memory``: a wrapper that altered its last turn says there to what.
    """

    def start(self, task: Task, kept: Any = None) -> Any:
        """Return the memory before the first reading; ``kept`` is what survived a loss of power."""
        ...

    def update(self, memory: Any, reading: Reading) -> tuple[Command, Any]:
        """Return the command that answers a reading, and the new memory."""
        ...


class Memoryless:
    """What laws have in common that answer each reading by itself: their memory is ``None``."""

    __slots__ = ()

    def start(self, task: Task, kept: None = None) -> None:
        """Return no memory."""
        del task, kept


def altered(controller: Controller, memory: Any, angle_deg: float) -> Any:
    """Return a controller's memory once it knows that its last turn became ``angle_deg``."""
    turned = getattr(controller, "turned", None)
    return memory if turned is None else turned(memory, angle_deg)


def checked(command: object) -> Command:
    """Return a command whose numbers are finite; ``TypeError`` for no command, ``ValueError`` for nan or inf."""
    if type(command) not in COMMANDS or not isinstance(command, Command):
        raise TypeError(f"a controller answered with {command!r}, which is no command")
    number = getattr(command, "angle_deg", getattr(command, "speed_deg_s", 0.0))
    if not math.isfinite(number):
        raise ValueError(f"a controller asked for {command!r}")
    return command
