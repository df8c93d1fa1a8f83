"""A user's controller at arm's length: in a child process with limits of time and memory.

One child serves a file in this process. It is started when first asked and anew after it hung or ended. Limits keep
faults apart; they are no security sandbox.
"""

import atexit
import os
import pickle
import sys
from contextlib import suppress
from dataclasses import dataclass, field
from queue import Empty, SimpleQueue
from subprocess import PIPE, Popen
from threading import Thread
from typing import Any, Final

from controllers.base import Controller
from models.messages import Command, Reading, Task
from sim.child import Answer, How, Request
from sim.series.plugins import PREFIX

LIMIT_S: Final = 1.0
"""Time that a controller has for one answer."""
CHECK_LIMIT_S: Final = 10.0
"""Time for the whole check against the contract: some hundred answers."""
START_LIMIT_S: Final = 60.0
"""Time for a child to start and to import what the user's file imports."""

_BOOT: Final = "import sys; sys.path[:] = {path!r}; from sim.child import serve; serve()"


class Failed(Exception):
    """A user's controller failed; says how in a word of a closed list, then what happened."""

    def __init__(self, how: How, sentence: str) -> None:
        super().__init__(f"{how}: {sentence}")
        self.how = how


@dataclass(frozen=True, slots=True)
class Isolated:
    """A controller whose every answer comes from a child; its memory stays packed, as the child sent it.

    Every method raises ``Failed`` when the controller raises, hangs, leaves, needs too much memory, or answers with
    what is no command.
    """

    law: Any
    packed: bytes = field(repr=False)
    """The same, ready to be sent; empty where it cannot be."""

    def start(self, task: Task, kept: Any = None) -> bytes:
        """Return the memory before the first reading."""
        found: bytes = self._ask("start", task, kept)
        return found

    def update(self, memory: bytes, reading: Reading) -> tuple[Command, bytes]:
        """Return the command that answers a reading, and the new memory."""
        found: tuple[Command, bytes] = self._ask("update", memory, reading)
        return found

    def turned(self, memory: bytes, angle_deg: float) -> bytes:
        """Hand on what the last turn became, to a law that wants to know."""
        found: bytes = self._ask("turned", memory, angle_deg) if hasattr(self.law, "turned") else memory
        return found

    def check(self) -> str:
        """Check it against the contract of controllers; return what it printed meanwhile."""
        found: str = self._ask("check", limit_s=CHECK_LIMIT_S)
        return found

    def _ask(self, verb: str, *arguments: Any, limit_s: float = LIMIT_S) -> Any:
        if not self.packed:
            raise Failed("wrong type", "its parameters cannot be sent to its process")
        return _children.ask(type(self.law), (verb, self.packed, arguments), limit_s)


def apart(law: Controller) -> Controller:
    """Return a controller that works in a child if it comes from a user's file, else itself."""
    if not type(law).__module__.startswith(PREFIX):
        return law
    try:
        return Isolated(law, pickle.dumps(law))
    except (pickle.PicklingError, AttributeError, TypeError):
        return Isolated(law, b"")


class _Children:
    """The children of this process, by module; those of a process that was forked into this one are not its own."""

    def __init__(self) -> None:
        self._by_module: dict[str, _Child] = {}
        self._owner = os.getpid()

    def ask(self, cls: type[Any], request: Request, limit_s: float) -> Any:
        """Return a result. Raises ``Failed``; a child that cannot go on is left out from then on."""
        if self._owner != os.getpid():
            self._by_module, self._owner = {}, os.getpid()
        name = cls.__module__
        child = self._by_module.get(name) or _Child(cls)
        self._by_module[name] = child
        try:
            return child.ask(request, limit_s)
        finally:
            if child.ended:
                self._by_module.pop(name).end()

    def end(self) -> None:
        if self._owner == os.getpid():
            for child in self._by_module.values():
                child.end()


class _Child:
    """A process for the classes of one module; ``ended`` once it cannot be asked again."""

    def __init__(self, cls: type[Any]) -> None:
        self.ended = False
        boot = _BOOT.format(path=sys.path)
        self._process = Popen([sys.executable, "-P", "-c", boot], stdin=PIPE, stdout=PIPE)
        self._answers: SimpleQueue[Answer] = SimpleQueue()
        self._reader = Thread(target=self._read, daemon=True)
        self._reader.start()
        self._ready = False
        self._file = (str(sys.modules[cls.__module__].__file__), cls.__name__)

    def ask(self, request: Request, limit_s: float) -> Any:
        """Return a result. Raises ``Failed``."""
        if not self._ready:
            self._asked(self._file, START_LIMIT_S)
            self._ready = True
        return self._asked(request, limit_s)

    def _asked(self, request: object, limit_s: float) -> Any:
        self._send(request)
        try:
            how, found = self._answers.get(timeout=limit_s)
        except BaseException as stopped:  # an interrupt too: the answer to this request must not meet the next one
            self._process.kill()
            self._reader.join()
            if isinstance(stopped, Empty):
                raise Failed("hung", f"no answer within {limit_s:g} s") from None
            raise
        if how != "done":
            raise Failed(how, found)
        return found

    def _send(self, request: object) -> None:
        assert self._process.stdin is not None
        with suppress(BrokenPipeError):  # it has ended; the reader says how
            pickle.dump(request, self._process.stdin)
            self._process.stdin.flush()

    def _read(self) -> None:
        """Hand on answers as they come; in the end, how the process left."""
        assert self._process.stdout is not None
        with suppress(EOFError, pickle.UnpicklingError):
            while True:
                self._answers.put(pickle.load(self._process.stdout))
        self.ended = True
        self._answers.put(("exited", _left(self._process.wait())))

    def end(self) -> None:
        """End the process and let go of it."""
        self._process.kill()
        self._reader.join()
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(BrokenPipeError):
                pipe.close() if pipe is not None else None


def _left(code: int) -> str:
    return f"it left with code {code}" if code >= 0 else f"it was ended by signal {-code}"


_children = _Children()
atexit.register(_children.end)
