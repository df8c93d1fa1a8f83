"""Checks that every controller must pass; run them on your own: ``check_controller(MyController(gain=0.5))``."""

import copy
import dataclasses
import math
from collections.abc import Callable, Iterator
from typing import Any, get_args

from controllers.base import Controller
from models.messages import Command, Done, GiveUp, Reading, Spin, Task, Turn

TASK = Task(tolerance_cents=3.0, finish_readings=2, time_limit_s=180.0, pluck_limit=60, pitch="first-partial")
ERRORS_CENTS = (-1200.0, -60.0, -5.0, -0.1, 0.1, 5.0, 60.0, 1200.0)
READ_CENTS = (-60.0, 40.0, None, -5.0, 0.0, 1200.0, 0.0, -1200.0, 2.0, None, None, 0.0, 0.0)  # a lively tuning


def check_controller(controller: Controller) -> None:
    """Check that ``controller`` keeps the contract of ``controllers.base``.

    It must be frozen, pure, keep its memory apart for each start, answer every reading with a known command, turn
    against the error and rest at no error. Memories are compared with ``==``. Raises ``AssertionError`` with one
    sentence that says what was found.
    """
    _check_frozen(controller)
    _check_answers(controller)
    _check_starts(controller)
    _check_direction(controller)
    _check_rest(controller)


def reading(cents: float | None, number: int = 0) -> Reading:
    """Return an example reading of the A string (110 Hz) with an error in cents, ``None`` for not heard."""
    heard = cents is not None
    hertz = 110.0 * 2.0 ** (cents / 1200.0) if cents is not None else None
    return Reading(hertz, cents, 0.99 if heard else 0.0, 0.2 + number, 0.35 + number, False, 1 + number)


def _check_frozen(controller: Controller) -> None:
    for name in _attributes(controller):
        try:
            setattr(controller, name, getattr(controller, name))
        except (AttributeError, TypeError):
            continue
        raise AssertionError(f"parameters must be frozen, but {name} can be set: use a frozen dataclass or @component")


def _require(kept: bool, sentence: str) -> None:
    """Raise ``AssertionError`` unless ``kept``; unlike ``assert`` also under ``python -O``."""
    if not kept:
        raise AssertionError(sentence)


def _attributes(controller: Controller) -> tuple[str, ...]:
    if dataclasses.is_dataclass(controller):
        return tuple(field.name for field in dataclasses.fields(controller))
    return tuple(getattr(controller, "__dict__", ()))


def _check_answers(controller: Controller) -> None:
    """Check purity and the kind of command along a lively tuning, each reading also while the motor moves."""
    memory = _start(controller)
    for number, cents in enumerate(READ_CENTS):
        seen = reading(cents, number)
        _updated(controller, memory, seen._replace(moving=True))
        command, memory = _updated(controller, memory, seen)
        if isinstance(command, Done | GiveUp):
            return


def _updated(controller: Controller, memory: Any, seen: Reading) -> tuple[Command, Any]:
    """Return what ``update`` answers, called twice: equal answers, the memory handed in left as it was."""
    before = copy.deepcopy(memory)
    first, second = _update(controller, memory, seen), _update(controller, memory, seen)
    _require(memory == before, f"update must not change the memory that it is given: {before!r} became {memory!r}")
    _require(first == second, f"update must be pure: the same memory and reading gave {first!r}, then {second!r}")
    _check_command(first[0])
    return first


def _check_command(command: object) -> None:
    known = get_args(Command)
    names = ", ".join(kind.__name__ for kind in known)
    _require(isinstance(command, known), f"a command must be one of {names} of models.messages, got {command!r}")
    _require(math.isfinite(_amount(command)), f"a command must carry finite numbers, got {command!r}")


def _amount(command: object) -> float:
    """Return the angle of a turn or the speed of a spin; 0 for commands that ask for no move."""
    match command:
        case Turn(angle_deg=amount) | Spin(speed_deg_s=amount):
            return amount
    return 0.0


def _check_starts(controller: Controller) -> None:
    """Check that a run leaves no trace in a memory started before it, nor in one started after it."""
    other = _start(controller)
    before = copy.deepcopy(other)
    commands = list(_commands(controller))
    _require(other == before, "memory must not be shared between starts: a run changed the memory of another start")
    _require(_start(controller) == before, "start must be pure: after a run it returns another memory than before")
    _require(list(_commands(controller)) == commands, "a controller must keep nothing of its own: a second run differs")


def _commands(controller: Controller) -> Iterator[Command]:
    memory = _start(controller)
    for number, cents in enumerate(READ_CENTS):
        command, memory = _update(controller, memory, reading(cents, number))
        yield command


def _check_direction(controller: Controller) -> None:
    for cents in ERRORS_CENTS:
        command, _ = _update(controller, _start(controller), reading(cents))
        wrong = "loosen a flat" if cents < 0 else "tighten a sharp"
        _require(_amount(command) * cents <= 0, f"it must not {wrong} string: {cents:g} cents gave {command!r}")


def _check_rest(controller: Controller) -> None:
    command, _ = _update(controller, _start(controller), reading(0.0))
    _require(_amount(command) == 0.0, f"it must not move a string that reads 0 cents, got {command!r}")


def _start(controller: Controller) -> Any:
    return _called("start(task)", lambda: controller.start(TASK))


def _update(controller: Controller, memory: Any, seen: Reading) -> tuple[Command, Any]:
    answer = _called(f"update(memory, {seen})", lambda: controller.update(memory, seen))
    _require(isinstance(answer, tuple) and len(answer) == 2, f"update must return (command, memory), got {answer!r}")
    command, after = answer
    return command, after


def _called(what: str, call: Callable[[], Any]) -> Any:
    try:
        return call()
    except Exception as error:
        raise AssertionError(f"{what} raised {type(error).__name__}: {error}") from error
