"""The process that a user's controller works in: it answers requests until nobody asks any more.

It keeps faults apart and is no security sandbox: the controller may do whatever the user may.
"""

import io
import os
import pickle
import signal
import sys
import time
import traceback
from collections.abc import Callable
from contextlib import redirect_stdout, suppress
from functools import lru_cache
from threading import Thread
from typing import Any, BinaryIO, Final, Literal

from controllers.base import altered, checked
from controllers.checks import check_controller
from models.messages import Command, GiveUp, Reading, Spin, Task, Turn
from sim.series.plugins import load_plugin

MEMORY_GB: Final = 1.0
"""Address space of the process, where the system can limit it."""

How = Literal["done", "raised", "hung", "exited", "out of memory", "wrong type", "not a number", "breach"]
"""How a request ended; all but the first are failures of the controller."""
Request = tuple[str, bytes, tuple[Any, ...]]
"""What to ask, of which controller (packed), with which arguments."""
Answer = tuple[How, Any]
"""How a request ended, and what came of it: a result, or a sentence."""


def serve() -> None:
    """Answer requests on what was standard input; whatever the controller prints goes to standard error."""
    requests, answers = _own_pipes()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interrupt is the parent's business
    Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    load_plugin(*pickle.load(requests))
    _limit_memory()
    answer: Answer = ("done", None)
    while True:
        pickle.dump(answer, answers)
        answers.flush()
        try:
            answer = answered(*pickle.load(requests))
        except EOFError:
            return


def answered(verb: str, law: bytes, arguments: tuple[Any, ...]) -> Answer:
    """Return what a controller answers to one request, or how it failed."""
    try:
        return "done", _VERBS[verb](_law(law), *arguments)
    except _Wrong as wrong:
        return wrong.how, str(wrong)
    except MemoryError:
        return "out of memory", f"it needed more than {MEMORY_GB:g} GB"
    except SystemExit as left:
        return "exited", f"it left with code {left.code}"
    except BaseException as error:
        return "raised", _told(error)


class _Wrong(Exception):
    def __init__(self, how: How, sentence: object) -> None:
        super().__init__(str(sentence))
        self.how = how


def _start(law: Any, task: Task, kept: Any) -> bytes:
    return _packed(law.start(task, kept))


def _update(law: Any, memory: bytes, reading: Reading) -> tuple[Command, bytes]:
    answer = law.update(pickle.loads(memory), reading)
    if not isinstance(answer, tuple) or len(answer) != 2:
        raise _Wrong("wrong type", f"update must return (command, memory), got {answer!r}")
    return _command(answer[0]), _packed(answer[1])


def _turned(law: Any, memory: bytes, angle_deg: float) -> bytes:
    return _packed(altered(law, pickle.loads(memory), angle_deg))


def _check(law: Any) -> str:
    """Return what a controller printed while it was checked."""
    with redirect_stdout(io.StringIO()) as printed:
        try:
            check_controller(law)
        except AssertionError as error:
            raise _Wrong("breach", error) from None
    return printed.getvalue()


_VERBS: Final[dict[str, Callable[..., Any]]] = {
    "start": _start, "update": _update, "turned": _turned, "check": _check,
}  # fmt: skip


def _command(command: Any) -> Command:
    """Return a command made of plain numbers and words, so that nothing of the user's file travels."""
    try:
        match checked(command):
            case Turn(angle_deg=angle):
                return Turn(float(angle))
            case Spin(speed_deg_s=speed):
                return Spin(float(speed))
            case GiveUp(reason=reason):
                return GiveUp(str(reason))
            case plain:
                return plain
    except TypeError as error:
        raise _Wrong("wrong type", error) from None
    except ValueError as error:
        raise _Wrong("not a number", error) from None


def _packed(memory: Any) -> bytes:
    try:
        return pickle.dumps(memory)
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise _Wrong("wrong type", f"its memory cannot be kept: {error}") from None


_law: Callable[[bytes], Any] = lru_cache(maxsize=256)(pickle.loads)


def _told(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    where = f" ({os.path.basename(frames[-1].filename)}, line {frames[-1].lineno})" if frames else ""
    return f"{type(error).__name__}: {error}{where}"


def _own_pipes() -> tuple[BinaryIO, BinaryIO]:
    requests, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(2, 1)
    assert isinstance(sys.stdout, io.TextIOWrapper)
    sys.stdout.reconfigure(line_buffering=True)
    return requests, answers


def _limit_memory() -> None:
    with suppress(ImportError, ValueError, OSError):  # not every system has such limits
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_AS)
        resource.setrlimit(resource.RLIMIT_AS, (int(MEMORY_GB * 1e9), most))


def _end_with(parent: int) -> None:
    """End this process, hung or not, once its parent is gone."""
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(1)
