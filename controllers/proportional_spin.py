"""Proportional by speed: spin in proportion to the error while listening."""

from typing import Annotated, ClassVar

from pydantic import Field

from controllers.base import Memoryless
from models.component import NonNegative, component
from models.messages import STOP, Command, Reading, Spin


@component
class ProportionalSpin(Memoryless):
    """Spin at a speed in proportion to the error.

    Law: ``speed = -gain * cents`` outside the deadband, 0 inside. A note that is not heard stops the motor. With dead
    time ``tau`` the loop is stable below ``gain * G * tau = pi/2`` and free of overshoot below ``1/e`` (hop
    going to 0).

    Fails when: the gain is set for a light string and used on a sensitive one, or the dead time grows.

    Source: integrator with dead time, any control text; sampled form in ``controllers.theory``.
    """

    asks: ClassVar[frozenset[type]] = frozenset({Spin})

    gain_deg_s_per_cent: Annotated[float, Field(gt=0, le=1e5)]
    """Speed of the shaft per cent of error. 0.3 divided by latency and by cents per degree is free of overshoot."""

    deadband_cents: NonNegative
    """Half-width of the band in which the motor rests."""

    def update(self, memory: None, reading: Reading) -> tuple[Command, None]:
        """Return a speed against the error."""
        del memory
        if reading.cents is None or abs(reading.cents) <= self.deadband_cents:
            return STOP, None
        return Spin(-self.gain_deg_s_per_cent * reading.cents), None
