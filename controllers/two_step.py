"""Bang-bang by angle with two step sizes: large far off, small near the target."""

from typing import Annotated, ClassVar

from pydantic import Field

from controllers.base import Memoryless
from models.component import NonNegative, component
from models.messages import LISTEN, Command, Reading, Turn


@component
class TwoStep(Memoryless):
    """Turn by a large step while far from the target and by a small one near it, then listen.

    Law: ``turn = -step * sign(cents)`` outside the deadband; the step is ``large_step_deg`` where
    ``|cents| > near_cents``, else ``small_step_deg``. Without delay it is sure to stop when the large step is at most
    ``2 near_cents`` and the small one at most ``2 deadband_cents``, both in cents.

    Fails when: the large step in cents exceeds twice ``near_cents``: it then jumps over the near zone to and fro. A
    delay of ``d`` decisions asks for ``d + 1`` times the bands, as with one step.

    Source: relay control of an integrator, once for each zone; independent arithmetic in the tests.
    """

    asks: ClassVar[frozenset[type]] = frozenset({Turn})

    large_step_deg: Annotated[float, Field(gt=0, le=3600)]
    """Turn of the shaft per reading far from the target. At most ``2 near_cents`` divided by cents per degree."""

    small_step_deg: Annotated[float, Field(gt=0, le=3600)]
    """Turn of the shaft per reading near the target. At most the deadband's width divided by cents per degree."""

    near_cents: NonNegative
    """Error up to which the small step is taken. Half of the large step in cents, or a little more."""

    deadband_cents: NonNegative
    """Half-width of the band in which the controller does nothing. The tolerance or a little less."""

    def update(self, memory: None, reading: Reading) -> tuple[Command, None]:
        """Return a step against the error."""
        del memory
        if reading.cents is None or abs(reading.cents) <= self.deadband_cents:
            return LISTEN, None
        step_deg = self.large_step_deg if abs(reading.cents) > self.near_cents else self.small_step_deg
        return Turn(-step_deg if reading.cents > 0 else step_deg), None
