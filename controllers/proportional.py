"""Proportional by angle: a turn in proportion to the error."""

from typing import Annotated, ClassVar

from pydantic import Field

from controllers.base import Memoryless
from models.component import NonNegative, component
from models.messages import LISTEN, Command, Reading, Turn


@component
class Proportional(Memoryless):
    """Turn in proportion to the error, then listen.

    Law: ``turn = -gain * cents`` outside the deadband. Loop gain ``K = gain * cents per degree``; with a delay of ``d``
    decisions the loop is stable below ``2 sin(pi / (4 d + 2))``.

    Fails when: one gain serves strings whose cents per degree differ several times, or the turn is smaller than the
    motor's step: the error left over is up to ``step / (2 K)``.

    Source: characteristic polynomial ``z^(d+1) - z^d + K`` (Levin & May 1976; from memory, checked by its roots).
    """

    asks: ClassVar[frozenset[type]] = frozenset({Turn})

    gain_deg_per_cent: Annotated[float, Field(gt=0, le=1000)]
    """Turn of the shaft per cent of error. 0.5 divided by cents per degree at the knob is cautious."""

    deadband_cents: NonNegative
    """Half-width of the band in which the controller does nothing."""

    def update(self, memory: None, reading: Reading) -> tuple[Command, None]:
        """Return a turn against the error."""
        del memory
        if reading.cents is None or abs(reading.cents) <= self.deadband_cents:
            return LISTEN, None
        return Turn(-self.gain_deg_per_cent * reading.cents), None
