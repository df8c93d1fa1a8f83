"""Sensors of a drive: what electronics can know of current, voltage and angle. Each reads one true value at a time."""

from typing import Annotated

from pydantic import Field

from models.component import NonNegative, Positive, component
from models.motors.base import rounded

Rate = Annotated[float, Field(gt=0, le=1e6)]


@component
class CurrentSensor:
    """A current sensor in the motor's supply line.

    Law: ``reading = step * round(clip(true + noise * normal, 0, limit) / step)``, ``rate`` times a second.

    Fails when: the current flows backwards or exceeds the limit, or changes faster than the rate can follow: a stall's
    first milliseconds, or the ripple of a switching driver.

    Source: ideal quantiser with additive normal noise, common practice; values from the ``source`` of its part.
    """

    limit_a: Positive
    """Largest current that it can tell. From its data sheet, or the converter's span over the shunt's resistance."""

    resolution_a: NonNegative
    """Smallest step of its reading; 0 = none. The limit over the number of codes."""

    noise_a: NonNegative
    """Standard deviation of a single reading at rest. Log it with the motor holding still."""

    rate_hz: Rate
    """Readings a second. From the firmware or the data sheet."""

    def reading(self, true_a: float, normal: float) -> float:
        """Return what it reads for a current, in A; ``normal`` is a standard normal number."""
        return rounded(min(max(true_a + self.noise_a * normal, 0.0), self.limit_a), self.resolution_a)

    def period_s(self) -> float:
        """Return the time between readings."""
        return 1.0 / self.rate_hz


@component
class VoltageSensor:
    """A voltage sensor at the supply's terminals, such as a converter behind a divider.

    Law: ``reading = step * round(clip(true + noise * normal, 0, limit) / step)``, ``rate`` times a second.

    Fails when: its own reference sags with the supply, or a dip is shorter than the time between readings.

    Source: ideal quantiser with additive normal noise, common practice; values from the ``source`` of its part.
    """

    limit_v: Positive
    """Largest voltage that it can tell. The converter's span times the divider's ratio."""

    resolution_v: NonNegative
    """Smallest step of its reading; 0 = none. The limit over the number of codes."""

    noise_v: NonNegative
    """Standard deviation of a single reading at rest. Log it on a battery with the motor off."""

    rate_hz: Rate
    """Readings a second. From the firmware or the data sheet."""

    def reading(self, true_v: float, normal: float) -> float:
        """Return what it reads for a voltage, in V; ``normal`` is a standard normal number."""
        return rounded(min(max(true_v + self.noise_v * normal, 0.0), self.limit_v), self.resolution_v)

    def period_s(self) -> float:
        """Return the time between readings."""
        return 1.0 / self.rate_hz


@component
class Encoder:
    """An angle sensor on the motor's shaft, before the slop of coupler and gear.

    Law: ``reading = step * round((true + noise * normal) / step)``, ``step = 360 / counts``, ``rate`` times a second.

    Fails when: what lies behind it moves otherwise: it sees no slop, no slipping coupler and no slipping string.

    Source: ideal quantiser with additive normal noise, common practice; values from the ``source`` of its part.
    """

    counts_per_turn: Annotated[int, Field(ge=1, le=1000000)]
    """Counts in one turn of the motor's output shaft. Those of the data sheet, times the gear ratio."""

    noise_deg: NonNegative
    """Standard deviation of where an edge is seen. Uneven marks; a tenth of a count is usual."""

    rate_hz: Rate
    """Times a second that the firmware looks at the count."""

    def reading(self, true_deg: float, normal: float) -> float:
        """Return what it reads for an angle, in degrees; ``normal`` is a standard normal number."""
        return rounded(true_deg + self.noise_deg * normal, 360.0 / self.counts_per_turn)

    def period_s(self) -> float:
        """Return the time between readings."""
        return 1.0 / self.rate_hz
