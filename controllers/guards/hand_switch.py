"""A hand that cuts the motor's power when the knob turns on and on."""

from typing import ClassVar

from controllers.guards.base import Acts, Event, Heard, Moved, Place, Sensor
from models.component import NonNegative, Positive, component


@component
class HandSwitch:
    """A switch in the motor's line, and a person who watches the knob.

    Law: trips ``reaction_s`` after the shaft has turned one way by more than ``most_deg`` between two readings.

    Fails when: nobody looks, or the string breaks before a hand can move.

    Source: simple reactions take 0.2 to 0.3 s, surprise makes it 1 s and more (from memory).
    """

    most_deg: Positive
    """A turn in one go that looks wrong to a person. Larger than the largest move."""

    reaction_s: NonNegative = 1.0
    """From seeing it to the switch."""

    place: ClassVar[Place] = "hand"
    sensor: ClassVar[Sensor] = "eye"
    acts: ClassVar[Acts] = "power"

    def start(self) -> float:
        """Return that nothing has turned."""
        return 0.0

    def watch(self, memory: float, event: Event) -> tuple[float | None, float]:
        """Return when the hand has cut the power."""
        if isinstance(event, Heard):
            return None, 0.0
        if not isinstance(event, Moved) or event.turned_deg == 0.0:
            return None, memory
        turned = memory + event.turned_deg if memory * event.turned_deg >= 0.0 else event.turned_deg
        if abs(turned) <= self.most_deg:
            return None, turned
        left_deg = max(0.0, self.most_deg - abs(memory)) if memory * event.turned_deg >= 0.0 else self.most_deg
        seen_s = event.at_s + (event.until_s - event.at_s) * left_deg / abs(event.turned_deg)
        return seen_s + self.reaction_s, turned
