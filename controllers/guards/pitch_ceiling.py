"""Stops a machine whose string sounds too high."""

from typing import Any, ClassVar

from controllers.guards.base import Acts, Event, Heard, Place, Sensor
from models.component import Positive, component


@component
class PitchCeiling:
    """A highest pitch.

    Law: trips when a reading lies above ``most_cents``.

    Fails when: the pitch is read too low, or one move goes from below the ceiling to breaking.

    Source: common practice.
    """

    most_cents: Positive
    """Highest pitch error that is let pass. Above every start, and well below breaking."""

    place: ClassVar[Place] = "firmware"
    sensor: ClassVar[Sensor] = "readings"
    acts: ClassVar[Acts] = "command"

    def start(self) -> None:
        """Remember nothing."""

    def watch(self, memory: Any, event: Event) -> tuple[float | None, Any]:
        """Return the time of a reading that is too high."""
        match event:
            case Heard(at_s=at_s, cents=float(cents)) if cents > self.most_cents:
                return at_s, memory
        return None, memory
