"""The microphone: sound pressure in, volts out."""

import math
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from models.component import Positive, component

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

REFERENCE_PA: Final = 20e-6  # 0 dB of sound pressure level in air, ISO 1683
NOISE_LOW_HZ: Final = 20.0  # common practice: band over which equivalent noise is summed
NOISE_HIGH_HZ: Final = 20_000.0


def pressure_pa(level_db_spl: float) -> float:
    """Return the rms pressure of a sound pressure level: ``20 uPa * 10^(L/20)``."""
    return REFERENCE_PA * float(10.0 ** (level_db_spl / 20.0))


@component
class Microphone:
    """A microphone or pickup, known by its data sheet.

    Law: ``V(f) = S p(f) (jf/f_low)/(1 + jf/f_low) / (1 + jf/f_high)``; its own noise is a pressure, white from 20 Hz
    to 20 kHz, whose sum is the equivalent noise level.

    Fails when: sound is loud enough to overload it, comes close enough for the direction to matter, or its noise
    rises towards low frequencies as that of a small electret does.

    Source: definitions of sensitivity and equivalent noise level (IEC 60268-4); values from the part's data sheet.
    """

    sensitivity_db_v_pa: Annotated[float, Field(ge=-120, le=40)]
    """Output for 1 Pa, in dB re 1 V. Data sheets say -44 dB re 1 V/Pa for 6.3 mV."""

    noise_db_spl: Annotated[float, Field(ge=-20, le=100)]
    """Sound level that would give as much as its own noise. Data sheet; 94 dB less the signal-to-noise ratio."""

    output_ohm: Positive
    """Output impedance. Data sheet; about the load resistor for an electret capsule."""

    lowest_hz: Positive
    """Corner (-3 dB) at the low end. Data sheet curve, or the coupling capacitor beside it."""

    highest_hz: Positive
    """Corner (-3 dB) at the high end. Data sheet curve."""

    @model_validator(mode="after")
    def _has_a_band(self) -> "Microphone":
        if self.lowest_hz >= self.highest_hz:
            raise ValueError(f"lowest_hz {self.lowest_hz:g} must lie below highest_hz {self.highest_hz:g}")
        return self

    def sensitivity_v_pa(self) -> float:
        """Return the output in volts for 1 Pa between the corners."""
        return float(10.0 ** (self.sensitivity_db_v_pa / 20.0))

    def response(self, hz: Floats) -> Complexes:
        """Return volts per pascal at each frequency, shape of ``hz``; 0 at 0 Hz."""
        low = 1j * np.asarray(hz) / self.lowest_hz
        found: Complexes = self.sensitivity_v_pa() * low / (1.0 + low) / (1.0 + 1j * np.asarray(hz) / self.highest_hz)
        return found

    def noise_pa2_hz(self) -> float:
        """Return its own noise as a one-sided density of pressure, Pa^2/Hz, from 20 Hz to 20 kHz."""
        return math.pow(pressure_pa(self.noise_db_spl), 2) / (NOISE_HIGH_HZ - NOISE_LOW_HZ)
