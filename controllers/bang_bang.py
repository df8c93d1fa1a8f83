"""Bang-bang by angle: the same step up or down until the pitch lies in the deadband."""

from typing import Annotated, ClassVar

from pydantic import Field

from controllers.base import Memoryless
from models.component import NonNegative, component
from models.messages import LISTEN, Command, Reading, Turn


@component
class BangBang(Memoryless):
    """Turn by a fixed step towards the target, then listen.

    Law: ``turn = -step * sign(cents)`` outside the deadband, nothing inside.

    Fails when: the step in cents exceeds the width of the band: the pitch then jumps over it to and fro. With a delay
    of ``d`` decisions a half-width of at least ``(d + 1) * step / 2`` is sure to stop.

    Source: relay control of an integrator with delay; independent arithmetic in the tests.
    """

    asks: ClassVar[frozenset[type]] = frozenset({Turn})

    step_deg: Annotated[float, Field(gt=0, le=3600)]
    """Turn of the motor's shaft per reading. Smallest pitch change wanted, divided by cents per degree at the knob."""

    deadband_cents: NonNegative
    """Half-width of the band in which the controller does nothing. The tolerance or a little less."""

    def update(self, memory: None, reading: Reading) -> tuple[Command, None]:
        """Return a step against the error."""
        del memory
        if reading.cents is None or abs(reading.cents) <= self.deadband_cents:
            return LISTEN, None
        return Turn(-self.step_deg if reading.cents > 0 else self.step_deg), None
