"""The analogue front end: amplifier and filters between microphone and converter."""

import math
from functools import lru_cache
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from models.component import NonNegative, Positive, component

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Kind = Literal["highpass", "bandpass", "lowpass"]

BOLTZMANN_J_K: Final = 1.380649e-23  # exact by definition of the kelvin, SI 2019
ROOM_K: Final = 300.0  # temperature at which thermal noise is reckoned


def thermal_v2_hz(ohm: float) -> float:
    """Return the thermal noise of a resistance as a one-sided density, V^2/Hz: ``4 k T R`` (Johnson, Nyquist 1928)."""
    return 4.0 * BOLTZMANN_J_K * ROOM_K * ohm


@lru_cache(maxsize=256)
def _design(kind: Kind, order: int, *corners_hz: float) -> tuple[Complexes, Complexes, float]:
    """Return zeros, poles and gain of an analogue Butterworth filter; ``corners_hz`` are one or two."""
    from scipy.signal import butter

    corners = 2.0 * math.pi * np.array(corners_hz)
    zeros, poles, gain = butter(order, corners if len(corners) > 1 else corners[0], kind, analog=True, output="zpk")
    return np.asarray(zeros, complex), np.asarray(poles, complex), float(gain)


def butterworth(hz: Floats, kind: Kind, order: int, *corners_hz: float) -> Complexes:
    """Return the complex gain of an analogue Butterworth filter, shape of ``hz``; 1 everywhere for order 0."""
    if order == 0:
        return np.ones(np.shape(hz), complex)
    zeros, poles, gain = _design(kind, order, *corners_hz)
    s = 2j * math.pi * np.asarray(hz)[..., np.newaxis]
    found: Complexes = gain * np.prod(s - zeros, axis=-1) / np.prod(s - poles, axis=-1)
    return found


@component
class FrontEnd:
    """Amplifier stages of equal gain, with Butterworth filters, an output swing and a resting point.

    Law: ``H(f) = gain / (1 + j f g / GBW)^stages * HP(f) * BP(f) * LP(f)`` with ``g = gain^(1/stages)``; the output is
    held within the swing, without memory, after ``H``. Noise at the output: ``(e_n^2 + 4 k T R) |H|^2``.

    Fails when: the slew rate binds, an overload leaves the coupling capacitors charged, hum enters behind the input,
    or the noise of the feedback resistors counts.

    Source: one-pole law of an internally compensated op-amp (common practice); Butterworth designs of scipy.signal;
    thermal noise after Johnson and Nyquist (1928).
    """

    gain: Annotated[float, Field(ge=1, le=1e6)]
    """Voltage gain in the pass band. Pick it so that a loud pluck nearly fills the swing; 100 to 500 is usual."""

    stages: Annotated[int, Field(ge=1, le=3)]
    """Amplifiers that share the gain evenly. Count the op-amps with gain in your circuit."""

    gain_bandwidth_mhz: Annotated[float, Field(gt=0, le=10_000)]
    """Gain-bandwidth product of each op-amp. Data sheet; 1 MHz for a general-purpose one."""

    supply_v: Annotated[float, Field(gt=0.5, le=60)]
    """Voltage from the lower rail to the upper rail. Measure it."""

    supply: Literal["single", "split"]
    """single: the lower rail is ground. split: ground lies half way between the rails."""

    swing_low_v: NonNegative
    """How near the output comes to the lower rail. Data sheet, output swing."""

    swing_high_v: NonNegative
    """How near the output comes to the upper rail. Data sheet; 1.5 V for a general-purpose op-amp."""

    bias_v: float
    """Output at rest above ground. 0 for a split supply, unless it is shifted into the converter's range."""

    high_pass_hz: Positive
    """Corner of the high-pass. From its resistor and capacitor: ``1 / (2 pi R C)``."""

    high_pass_order: Annotated[int, Field(ge=0, le=8)]
    """Order of the high-pass; 0 = absent."""

    band_low_hz: Positive
    """Lower corner of the band-pass."""

    band_high_hz: Positive
    """Upper corner of the band-pass."""

    band_order: Annotated[int, Field(ge=0, le=4)]
    """Order of each edge of the band-pass, which has twice as many poles; 0 = absent."""

    low_pass_hz: Positive
    """Corner of the low-pass. It keeps out what would fold: well below half the sample rate."""

    low_pass_order: Annotated[int, Field(ge=0, le=8)]
    """Order of the low-pass; 0 = absent."""

    input_noise_nv_rthz: NonNegative
    """Input noise density of the first op-amp, nV per root Hz. Data sheet; 40 for a general-purpose one."""

    @model_validator(mode="after")
    def _has_a_band(self) -> "FrontEnd":
        if self.band_low_hz >= self.band_high_hz:
            raise ValueError(f"band_low_hz {self.band_low_hz:g} must lie below band_high_hz {self.band_high_hz:g}")
        return self

    @model_validator(mode="after")
    def _rests_within_its_swing(self) -> "FrontEnd":
        low, high = self.swing_v()
        if not low < self.bias_v < high:
            raise ValueError(f"bias_v {self.bias_v:g} must lie within the output swing, {low:g} to {high:g} V")
        return self

    def stage_gain(self) -> float:
        """Return the gain of one stage."""
        return float(self.gain ** (1.0 / self.stages))

    def pole_hz(self) -> float:
        """Return the corner of one stage: gain-bandwidth product over its gain."""
        return self.gain_bandwidth_mhz * 1e6 / self.stage_gain()

    def swing_v(self) -> tuple[float, float]:
        """Return the lowest and highest output above ground."""
        ground = self.supply_v / 2.0 if self.supply == "split" else 0.0
        return self.swing_low_v - ground, self.supply_v - self.swing_high_v - ground

    def window_v(self) -> tuple[float, float]:
        """Return the output swing re the resting point: the low end is negative, the high end positive."""
        low, high = self.swing_v()
        return low - self.bias_v, high - self.bias_v

    def response(self, hz: Floats) -> Complexes:
        """Return volts per volt at each frequency from 0 Hz, shape of ``hz``."""
        found: Complexes = (
            self.gain
            * (1.0 + 1j * np.asarray(hz) / self.pole_hz()) ** -self.stages
            * butterworth(hz, "highpass", self.high_pass_order, self.high_pass_hz)
            * butterworth(hz, "bandpass", self.band_order, self.band_low_hz, self.band_high_hz)
            * butterworth(hz, "lowpass", self.low_pass_order, self.low_pass_hz)
        )
        return found

    def noise_v2_hz(self, hz: Floats, source_ohm: float) -> Floats:
        """Return the noise at the output as a one-sided density, V^2/Hz; ``source_ohm`` feeds the input."""
        at_input = (self.input_noise_nv_rthz * 1e-9) ** 2 + thermal_v2_hz(source_ohm)
        found: Floats = at_input * np.abs(self.response(hz)) ** 2
        return found
