"""The string goes on changing while it is tuned."""

from dataclasses import replace
from typing import Annotated, ClassVar

from pydantic import Field

from models.component import component
from models.faults.base import Built, Fault, Seam
from models.strings.climate import Climate
from models.strings.creep import Creep
from models.strings.drift import Drift

Pace = Annotated[float, Field(ge=0.01, le=1e6)]
"""Seconds."""

STEADY = Climate(
    string_change_k=0.0, body_change_k=0.0, string_expansion_ppm_k=12.0, body_expansion_ppm_k=4.0,
    string_pace_s=10.0, body_pace_s=1000.0,
)  # fmt: skip
SETTLED = Creep(cents_per_decade=0.0, onset_s=60.0)


@component
class NewString(Fault):
    """The string was put on just now, and creeps.

    Law: ``models.strings.creep.Creep``.

    Fails when: the string also slips on its post, turn by turn.

    Source: logarithmic settling; the numbers are an estimate.
    """

    cents_per_decade: Annotated[float, Field(ge=0, le=1200)] = 60.0
    """Fall of pitch while the time grows tenfold. Tune a new string and note cents after 10 and 100 s."""

    onset_s: Pace = 5.0
    """Time since it came under tension when the run starts."""

    seam: ClassVar[Seam] = "rig"

    def alter(self, built: Built) -> Built:
        """Return the specimen with a creeping string."""
        creep = Creep(cents_per_decade=self.cents_per_decade, onset_s=self.onset_s)
        return drifting(built, creep, _climate(built))


@component
class ColdString(Fault):
    """The string comes from the cold and warms up while it is tuned; it falls.

    Law: ``models.strings.climate.Climate`` with the string alone warming.

    Fails when: wood and humidity change too, in the hours after.

    Source: thermal expansion of steel 12 ppm/K (materials tables); temperature and pace are estimates.
    """

    colder_k: Annotated[float, Field(ge=0, le=60)] = 15.0
    """How much colder the string is than the room."""

    pace_s: Pace = 30.0
    """Time in which it covers 63 % of that."""

    seam: ClassVar[Seam] = "rig"

    def alter(self, built: Built) -> Built:
        """Return the specimen with a string that warms up."""
        climate = replace(_climate(built), string_change_k=self.colder_k, string_pace_s=self.pace_s)
        return drifting(built, SETTLED if built.chain.drift is None else built.chain.drift.creep, climate)


def _climate(built: Built) -> Climate:
    return STEADY if built.chain.drift is None else built.chain.drift.climate


def drifting(built: Built, creep: Creep, climate: Climate) -> Built:
    """Return a specimen whose string creeps and changes its temperature."""
    return built._replace(chain=replace(built.chain, drift=Drift(built.chain.string, creep, climate)))
