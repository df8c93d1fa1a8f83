"""The contract of guards: they see events of one run in order of time, and say when they would stop it.

A guard reads no controller's memory and alters no reading: one unguarded run yields the trip instant of every guard.
"""

from typing import Annotated, Any, ClassVar, Literal, NamedTuple, Protocol

from pydantic import Field

from models.messages import Command

Place = Literal["firmware", "separate circuit", "mechanics", "hand"]
Sensor = Literal["readings", "commands", "clock", "current", "voltage", "eye"]
Acts = Literal["command", "power"]
Count = Annotated[int, Field(ge=1, le=100)]
"""Readings in a row that trip a guard."""


class Heard(NamedTuple):
    """A reading arrived, heard or not."""

    at_s: float
    cents: float | None


class Told(NamedTuple):
    """A command reached the driver."""

    at_s: float
    command: Command


class Moved(NamedTuple):
    """The motor turned one way for a while; current and voltage change steadily from the first to the last."""

    at_s: float
    until_s: float
    turned_deg: float
    first_a: float
    last_a: float
    first_v: float
    last_v: float


class Woke(NamedTuple):
    """The unit lost its supply and started again."""

    at_s: float


class Over(NamedTuple):
    """The run ended by itself."""

    at_s: float


Event = Heard | Told | Moved | Woke | Over
"""``at_s`` never falls from one event to the next."""


class Guard(Protocol):
    """What every guard offers; parameters are frozen."""

    place: ClassVar[Place]
    """Where it lives; a fault that takes out a place disables all that share it."""
    sensor: ClassVar[Sensor]
    """What it knows the run by."""
    acts: ClassVar[Acts]
    """What it stops: the command, which a runaway ignores, or the motor's power."""

    def start(self) -> Any:
        """Return the memory when the machine is switched on."""
        ...

    def watch(self, memory: Any, event: Event) -> tuple[float | None, Any]:
        """Return when the guard trips because of an event (never before it begins), or None, and the new memory."""
        ...


def trip_s(guard: Guard, events: list[Event]) -> float | None:
    """Return when a guard would stop a run; None where it lets it go on."""
    memory, watch = guard.start(), guard.watch
    for event in events:
        tripped, memory = watch(memory, event)
        if tripped is not None:
            return tripped
    return None
