"""Stops a single move that is larger than any that the machine needs."""

from typing import Any, ClassVar

from controllers.guards.base import Acts, Event, Place, Sensor, Told
from models.component import Positive, component
from models.messages import Turn


@component
class LargestTurn:
    """A limit of a single turn, at the driver.

    Law: trips when ``|angle| > most_deg``.

    Fails when: many small turns add up, or the motor moves without a command.

    Source: plausibility limit at the actuator, common practice.
    """

    most_deg: Positive
    """Largest turn of the shaft that is let through. A little more than the strategy's own largest move."""

    place: ClassVar[Place] = "firmware"
    sensor: ClassVar[Sensor] = "commands"
    acts: ClassVar[Acts] = "command"

    def start(self) -> None:
        """Remember nothing."""

    def watch(self, memory: Any, event: Event) -> tuple[float | None, Any]:
        """Return the time of a turn that is too large."""
        match event:
            case Told(at_s=at_s, command=Turn(angle_deg=angle)) if abs(angle) > self.most_deg:
                return at_s, memory
        return None, memory
