"""The converter: volts at its instants in, whole steps out."""

import math
from typing import Annotated, Any, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from models.component import NonNegative, Positive, component

Floats = NDArray[np.float64]

BOW: Final = 3.0 * math.sqrt(3.0) / 2.0  # makes the largest value of u^3 - u on -1..1 equal 1


@component
class Converter:
    """A sampling converter with a clock that is not what the firmware believes.

    Law: sample k is taken at ``k / (rate (1 + ppm 1e-6)) + jitter``; the code is the whole part of
    ``V 2^bits / V_ref``, bowed by ``u^3 - u`` (u = -1..1 over the range) and held within 0 and ``2^bits - 1``. A clock
    that runs fast reads low, by 1731 cents times the error.

    Fails when: the reference carries hum, channels share one sampling capacitor, or the firmware reads at instants of
    its own rather than by a timer.

    Source: sampling theorem; transfer law of a converter's data sheet, from memory; the bow is an estimate.
    """

    rate_hz: Annotated[float, Field(ge=100, le=1e6)]
    """Samples a second, as the firmware believes. From its timer settings."""

    bits: Annotated[int, Field(ge=6, le=24)]
    """Bits of a code. Data sheet."""

    reference_v: Annotated[float, Field(gt=0.1, le=60)]
    """Voltage that all codes span, from 0 V. Data sheet and wiring: often the supply."""

    clock_ppm: Annotated[float, Field(ge=-200_000, le=200_000)]
    """True rate over believed rate less 1, in millionths. Crystal 30, ceramic resonator 5000, untrimmed RC 100000."""

    jitter_us: NonNegative
    """Standard deviation of a sampling instant. 0 for a timer; some microseconds for a polled loop."""

    conversion_cycles: Annotated[float, Field(gt=0, le=10_000)]
    """Clock cycles of one conversion. Data sheet; 13 is common."""

    converter_clock_khz: Positive
    """Clock of the converter itself. Data sheet and prescaler: 16 MHz / 128 = 125 kHz."""

    nonlinearity_steps: Annotated[float, Field(ge=0, le=100)]
    """Largest deviation from the straight line between the ends. Data sheet, integral nonlinearity."""

    @model_validator(mode="after")
    def _keeps_up(self) -> "Converter":
        if self.rate_hz > self.fastest_hz():
            raise ValueError(
                f"rate_hz {self.rate_hz:g} is too fast: {self.conversion_cycles:g} cycles of "
                f"{self.converter_clock_khz:g} kHz allow {self.fastest_hz():.1f} samples/s"
            )
        return self

    def fastest_hz(self) -> float:
        """Return the samples a second that the conversion time allows."""
        return self.converter_clock_khz * 1e3 / self.conversion_cycles

    def true_hz(self) -> float:
        """Return the samples really taken a second."""
        return self.rate_hz * (1.0 + self.clock_ppm * 1e-6)

    def step_v(self) -> float:
        """Return the volts of one step."""
        return math.ldexp(self.reference_v, -self.bits)

    def instants_s(self, count: int) -> Floats:
        """Return the true instants of ``count`` samples re the first one's, without jitter, shape (count,)."""
        found: Floats = np.arange(float(count)) / self.true_hz()
        return found

    def jitter_s(self, normals: NDArray[np.floating[Any]]) -> Floats:
        """Return how late samples are taken, for standard normal deviates of any shape."""
        found: Floats = self.jitter_us * 1e-6 * normals.astype(np.float64)
        return found

    def codes(self, volts: Floats, rest_v: float) -> tuple[Floats, float]:
        """Return whole steps re the code at rest, shape of ``volts``, and the share of samples at an end of the range.

        ``volts`` are re the resting point, ``rest_v`` is that point above 0 V.
        """
        found = self._code(np.append(volts, 0.0) + rest_v)
        codes, at_rest = found[:-1].reshape(np.shape(volts)), found[-1]
        at_an_end = np.count_nonzero(codes == 0.0) + np.count_nonzero(codes == self._top())
        return codes - at_rest, at_an_end / max(1, codes.size)

    def _top(self) -> float:
        return math.ldexp(1.0, self.bits) - 1.0

    def _code(self, volts: Floats) -> Floats:
        steps = volts / self.step_v()
        if self.nonlinearity_steps:
            u = volts * (2.0 / self.reference_v) - 1.0
            steps += self.nonlinearity_steps * BOW * u * (u * u - 1.0)  # beyond the range it has the sign of u
        return np.clip(np.floor(steps), 0.0, self._top())
