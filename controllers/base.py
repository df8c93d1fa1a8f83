"""The contract of controllers: frozen parameters, explicit memory, no clock, no randomness."""

from typing import Any, Protocol

from models.messages import Command, Reading, Task


class Controller(Protocol):
    """What every controller offers.

    ``update`` is called once per window, heard or not. It returns a command and the memory for the next call; it must
    not keep anything else. A class may say which motor commands it gives with ``asks``, a set of ``Turn`` and ``Spin``;
    a rig whose motor does not accept them is refused before the run.
    """

    def start(self, task: Task, kept: Any = None) -> Any:
        """Return the memory before the first reading; ``kept`` is what survived a loss of power."""
        ...

    def update(self, memory: Any, reading: Reading) -> tuple[Command, Any]:
        """Return the command that answers a reading, and the new memory."""
        ...
