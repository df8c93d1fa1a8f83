"""Cuts the motor's power when it draws more than the string can ask for."""

import math
from typing import Any, ClassVar

from controllers.guards.base import Acts, Event, Moved, Place, Sensor
from models.component import Positive, component


@component
class MotorCurrent:
    """A limit of the motor's current: torque, whatever the reason.

    Law: samples every ``period_s`` of a motion, trips at the ``in_a_row``-th sample in a row above ``most_a``.

    Fails when: the current of a start, or friction in the head, is as large as that of the breaking string.

    Source: over-current protection, common practice.
    """

    most_a: Positive
    """Current between that of the highest healthy pitch and that of the breaking tension."""

    period_s: Positive = 0.002
    """Time between two samples."""

    in_a_row: int = 5
    """Samples in a row that trip it: they outlast the surge of a start."""

    place: ClassVar[Place] = "separate circuit"
    sensor: ClassVar[Sensor] = "current"
    acts: ClassVar[Acts] = "power"

    def start(self) -> None:
        """Remember nothing: each motion begins anew."""

    def watch(self, memory: Any, event: Event) -> tuple[float | None, Any]:
        """Return when the current of a motion has been too high for long enough."""
        if not isinstance(event, Moved) or max(event.first_a, event.last_a) <= self.most_a:
            return None, memory
        lasts_s = event.until_s - event.at_s
        over_s = self._over_s(event, lasts_s)
        first = math.floor(over_s / self.period_s) + 1 if over_s > 0.0 else 0
        trip_s = (first + self.in_a_row - 1) * self.period_s
        ends_over = event.last_a > self.most_a
        return (event.at_s + trip_s if ends_over and trip_s <= lasts_s else None), memory

    def _over_s(self, event: Moved, lasts_s: float) -> float:
        """Return when the current rises above the limit, on a straight line from first to last."""
        if event.first_a > self.most_a or event.last_a <= event.first_a:
            return 0.0
        return lasts_s * (self.most_a - event.first_a) / (event.last_a - event.first_a)
