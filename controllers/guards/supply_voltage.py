"""Stops a machine whose battery is nearly empty."""

from typing import Any, ClassVar

from controllers.guards.base import Acts, Event, Moved, Place, Sensor
from models.component import Positive, component


@component
class SupplyVoltage:
    """A lowest voltage at the supply's terminals.

    Law: trips when the voltage at the end of a motion lies below ``least_v``.

    Fails when: the voltage recovers before it is measured, or falls only while the motor starts.

    Source: low-battery cut-off, common practice.
    """

    least_v: Positive
    """Lowest voltage at which motor and unit do what they should."""

    place: ClassVar[Place] = "firmware"
    sensor: ClassVar[Sensor] = "voltage"
    acts: ClassVar[Acts] = "command"

    def start(self) -> None:
        """Remember nothing."""

    def watch(self, memory: Any, event: Event) -> tuple[float | None, Any]:
        """Return the time of a voltage that is too low."""
        low = isinstance(event, Moved) and event.last_v < self.least_v
        return (event.at_s if low else None), memory
