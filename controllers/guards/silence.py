"""Stops a machine that hears nothing for too long, or that works for too long."""

from typing import ClassVar

from controllers.guards.base import Acts, Event, Heard, Place, Sensor
from models.component import Positive, component


@component
class Silence:
    """A longest time without a reading, and a longest time in all.

    Law: trips ``most_silent_s`` after the last reading that was heard, and ``most_s`` after the start.

    Fails when: it is the unit itself that counts, and the unit hangs; a watchdog outside is this guard elsewhere.

    Source: time-out, common practice.
    """

    most_silent_s: Positive
    """Longest time between two readings of a sound machine, with some more."""

    most_s: Positive
    """Longest time that a tuning takes, with some more."""

    place: ClassVar[Place] = "separate circuit"
    sensor: ClassVar[Sensor] = "clock"
    acts: ClassVar[Acts] = "power"

    def start(self) -> float:
        """Return the start as the last instant at which all was well."""
        return 0.0

    def watch(self, memory: float, event: Event) -> tuple[float | None, float]:
        """Return when time is up, if that is before the event."""
        due_s = min(memory + self.most_silent_s, self.most_s)
        if event.at_s > due_s:
            return due_s, memory
        heard = isinstance(event, Heard) and event.cents is not None
        return None, event.at_s if heard else memory
