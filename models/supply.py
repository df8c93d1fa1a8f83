"""The supply that feeds the motor."""

from typing import Annotated

from pydantic import Field

from models.component import NonNegative, component
from models.messages import Source


@component
class Supply:
    """A voltage behind a resistance.

    Law: ``V = V_oc - R I``.

    Fails when: it is a battery, which has a component of its own; voltage and resistance are constant here.

    Source: the ``source`` of its part.
    """

    voltage_v: Annotated[float, Field(gt=0.5, le=60)]
    """Open-circuit voltage. Measure with nothing connected."""

    resistance_ohm: NonNegative
    """Internal resistance with wires. Measure the voltage with and without a known load."""

    def source(self, used_c: float) -> Source:
        """Return what a motor sees; what was drawn before, in coulombs, does not tire it."""
        del used_c
        return Source(self.voltage_v, self.resistance_ohm)
