"""Stops a machine whose battery is nearly empty."""

from typing import ClassVar

from controllers.guards.base import Acts, Event, Moved, Place, Sensor
from models.component import NonNegative, Positive, component


@component
class SupplyVoltage:
    """A lowest voltage at the supply's terminals.

    Law: trips once the voltage has stayed below ``least_v`` for ``hold_s`` of turning.

    Fails when: the voltage recovers before it is measured, or falls only while the motor starts.

    Source: low-battery cut-off, common practice.
    """

    least_v: Positive
    """Lowest voltage at which motor and unit do what they should."""

    hold_s: NonNegative = 0.1
    """For how long the voltage must be low: longer than the surge of a start."""

    place: ClassVar[Place] = "firmware"
    sensor: ClassVar[Sensor] = "voltage"
    acts: ClassVar[Acts] = "command"

    def start(self) -> float | None:
        """Return that the voltage was never low."""
        return None

    def watch(self, memory: float | None, event: Event) -> tuple[float | None, float | None]:
        """Return when the voltage has been too low for long enough; ``memory`` is since when it is."""
        if not isinstance(event, Moved):
            return None, memory
        if max(event.first_v, event.last_v) >= self.least_v:
            return None, event.until_s if event.last_v < self.least_v else None
        since_s = event.at_s if memory is None else memory
        due_s = max(since_s + self.hold_s, event.at_s)
        return (due_s if due_s <= event.until_s else None), since_s
