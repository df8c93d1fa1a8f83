"""The supply is weaker than planned."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import Field

from models.component import component
from models.drive import Feed
from models.faults.base import Built, Fault, Left, Seam
from models.messages import Source


@component
class SaggingBattery(Fault):
    """The battery is nearly empty: less voltage, more resistance.

    Law: ``V_oc = voltage_left V_oc``, ``R = R + extra_ohm``.

    Fails when: the voltage falls on during the run.

    Source: estimate.
    """

    voltage_left: Left = 0.8
    """Share of the open-circuit voltage that is left."""

    extra_ohm: Annotated[float, Field(ge=0, le=1000)] = 1.0
    """What its resistance has grown by."""

    seam: ClassVar[Seam] = "supply"

    def alter(self, built: Built) -> Built:
        """Return the specimen on the weak supply."""
        weak = Weakened(built.machine.supply, self.voltage_left, self.extra_ohm)
        return built._replace(machine=built.machine._replace(supply=weak))


@dataclass(frozen=True, slots=True)
class Weakened:
    """A supply with less voltage and more resistance than it should have."""

    sound: Feed
    voltage_left: float
    extra_ohm: float

    def source(self, used_c: float) -> Source:
        """Return what a motor sees after so much charge was drawn, in coulombs."""
        source = self.sound.source(used_c)
        return Source(source.voltage_v * self.voltage_left, source.resistance_ohm + self.extra_ohm)
