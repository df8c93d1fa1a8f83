"""Keeps the motor without power until the first reading was heard."""

from typing import ClassVar

from controllers.guards.base import Acts, Event, Heard, Moved, Place, Sensor, Woke
from models.component import component


@component
class PowerUp:
    """No move before a reading.

    Law: trips at a motion before the first reading that was heard; after a reset it waits for a reading again.

    Fails when: the driver does not obey its enable line.

    Source: start disarmed, common practice.
    """

    place: ClassVar[Place] = "separate circuit"
    sensor: ClassVar[Sensor] = "readings"
    acts: ClassVar[Acts] = "power"

    def start(self) -> bool:
        """Return that nothing was heard yet."""
        return False

    def watch(self, memory: bool, event: Event) -> tuple[float | None, bool]:
        """Return the time of a motion before any reading."""
        match event:
            case Heard(cents=float()):
                return None, True
            case Woke():
                return None, False
            case Moved(at_s=at_s) if not memory:
                return at_s, memory
        return None, memory
