"""Bang-bang by speed: spin towards the target while listening, stop in the deadband."""

from typing import Annotated, ClassVar

from pydantic import Field

from controllers.base import Memoryless
from models.component import NonNegative, component
from models.messages import STOP, Command, Reading, Spin


@component
class BangBangSpin(Memoryless):
    """Spin at a fixed speed towards the target, stop inside the deadband.

    Law: ``speed = -v * sign(cents)`` outside the deadband, 0 inside. A note that is not heard stops the motor.
    Overshoot lies between ``v tau - band`` and ``v (tau + hop) - band`` (``v`` in cents per
    second, ``tau`` the age of a reading).

    Fails when: the speed times the age of a reading exceeds the band: it then hunts.

    Source: kinematics of a dead time; independent arithmetic in the tests.
    """

    asks: ClassVar[frozenset[type]] = frozenset({Spin})

    spin_deg_s: Annotated[float, Field(gt=0, le=1e6)]
    """Speed of the motor's shaft. Band in cents, divided by latency and by cents per degree."""

    deadband_cents: NonNegative
    """Half-width of the band in which the motor rests."""

    def update(self, memory: None, reading: Reading) -> tuple[Command, None]:
        """Return a speed against the error."""
        del memory
        if reading.cents is None or abs(reading.cents) <= self.deadband_cents:
            return STOP, None
        return Spin(-self.spin_deg_s if reading.cents > 0 else self.spin_deg_s), None
