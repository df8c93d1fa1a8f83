"""Cuts the motor's power when it draws more than the string can ask for."""

from typing import ClassVar, NamedTuple

from controllers.guards.base import Acts, Event, Moved, Place, Sensor
from models.component import NonNegative, Positive, component


class High(NamedTuple):
    """A current that is too high: since when, and up to when it was last seen."""

    since_s: float | None = None
    until_s: float = 0.0


@component
class MotorCurrent:
    """A limit of the motor's current: torque, whatever the reason.

    Law: trips once the current has stayed above ``most_a`` for ``hold_s``, through motions that follow each other.

    Fails when: the current of a start, or friction in the head, is as large as that of the breaking string.

    Source: over-current protection with a delay, common practice.
    """

    most_a: Positive
    """Current between that of the highest healthy pitch and that of the breaking tension."""

    hold_s: NonNegative = 0.01
    """For how long it must last: longer than the surge of a start."""

    place: ClassVar[Place] = "separate circuit"
    sensor: ClassVar[Sensor] = "current"
    acts: ClassVar[Acts] = "power"

    def start(self) -> High:
        """Return that nothing was high."""
        return High()

    def watch(self, memory: High, event: Event) -> tuple[float | None, High]:
        """Return when the current has been too high for long enough."""
        if not isinstance(event, Moved):
            return None, memory
        begins = self._since_s(memory, event)
        if begins is None:
            return None, High()
        lasts_s = event.until_s - event.at_s
        ends_s = event.until_s if event.last_a > self.most_a else event.at_s + lasts_s * self._share(event)
        due_s = max(begins + self.hold_s, event.at_s)
        if due_s <= ends_s:
            return due_s, High()
        return None, (High(begins, event.until_s) if event.last_a > self.most_a else High())

    def _since_s(self, memory: High, event: Moved) -> float | None:
        """Return since when the current has been too high; None where it never is in this motion."""
        if event.first_a > self.most_a:
            goes_on = memory.since_s is not None and event.at_s - memory.until_s < self.hold_s
            return memory.since_s if goes_on else event.at_s
        if event.last_a <= self.most_a:
            return None
        return event.at_s + (event.until_s - event.at_s) * self._share(event)

    def _share(self, event: Moved) -> float:
        """Return the share of a motion after which the current crosses the limit."""
        return (self.most_a - event.first_a) / (event.last_a - event.first_a)
