"""A battery: a supply that tires."""

from typing import Annotated, Final

from pydantic import Field, model_validator

from models.component import NonNegative, Positive, Share, component
from models.messages import Source

COULOMB_PER_AH: Final = 3600.0


@component
class Battery:
    """A battery, whose voltage falls and whose resistance rises with the charge that was drawn.

    Law: ``s = start - used / (3600 capacity)``, at least 0; ``V_oc = empty + (full - empty) s``, the resistance
    likewise; at its terminals ``V = V_oc - R I``.

    Fails when: the discharge curve is not straight (the last tenth of an alkaline cell drops faster), the cell recovers
    between plucks, it is cold, or its capacity at this current is not the one given: alkaline cells give a third less
    at half an ampere than at a tenth.

    Source: equivalent circuit of a cell, common practice; values from the ``source`` of its part.
    """

    full_v: Annotated[float, Field(gt=0.5, le=60)]
    """Open-circuit voltage with all its charge. Measure a fresh one with nothing connected."""

    empty_v: Annotated[float, Field(gt=0.2, le=60)]
    """Open-circuit voltage with no charge left. Measure a used-up one after an hour's rest."""

    full_ohm: NonNegative
    """Internal resistance with all its charge. Measure the voltage with and without a known load."""

    empty_ohm: NonNegative
    """Internal resistance with no charge left. Measure as when full; it may rise to several times that."""

    capacity_ah: Positive
    """Charge that it gives at about the motor's current, in Ah. From the maker's discharge curves; 1000 mAh is 1 Ah."""

    charge_share: Share
    """Share of its charge that is left at the start of a run: 1 for a fresh one. Unknown: a range."""

    @model_validator(mode="after")
    def _tires(self) -> "Battery":
        if self.empty_v > self.full_v:
            raise ValueError("empty_v lies above full_v; a battery's voltage falls as it empties")
        if self.empty_ohm < self.full_ohm:
            raise ValueError("empty_ohm lies below full_ohm; a battery's resistance rises as it empties")
        return self

    def source(self, used_c: float) -> Source:
        """Return what a motor sees after ``used_c`` coulombs (0 or more) were drawn since the start."""
        share = max(0.0, self.charge_share - used_c / (COULOMB_PER_AH * self.capacity_ah))
        volts = self.empty_v + (self.full_v - self.empty_v) * share
        return Source(volts, self.empty_ohm + (self.full_ohm - self.empty_ohm) * share)
