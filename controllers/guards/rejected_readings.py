"""Stops a machine that hears too much that cannot be."""

from typing import ClassVar

from controllers.guards.base import Acts, Count, Event, Heard, Place, Sensor
from models.component import component


@component
class RejectedReadings:
    """Readings that are missed or that no string can have, in a row.

    Law: trips at the ``in_a_row``-th reading in a row that was not heard or lies outside ``low_cents``..``high_cents``.

    Fails when: wrong readings look plausible.

    Source: common practice.
    """

    low_cents: float
    """Lowest pitch error that a string can start with."""

    high_cents: float
    """Highest pitch error that a string can start with."""

    in_a_row: Count
    """Bad readings in a row that trip it. Fewer than it takes to break a string, more than a sound machine misses."""

    place: ClassVar[Place] = "firmware"
    sensor: ClassVar[Sensor] = "readings"
    acts: ClassVar[Acts] = "command"

    def start(self) -> int:
        """Return no bad reading."""
        return 0

    def watch(self, memory: int, event: Event) -> tuple[float | None, int]:
        """Return the time of the reading that is one too many."""
        if not isinstance(event, Heard):
            return None, memory
        good = event.cents is not None and self.low_cents <= event.cents <= self.high_cents
        memory = 0 if good else memory + 1
        return (event.at_s if memory >= self.in_a_row else None), memory
