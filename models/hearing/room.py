"""What else is to be heard: the room's noise, mains hum, and the machine's own motor."""

import math
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from models.component import Positive, component
from models.hearing.microphone import pressure_pa

Floats = NDArray[np.float64]

LOWEST_HZ: Final = 20.0  # the noise is flat below
HIGHEST_HZ: Final = 20000.0  # and absent above
HUM_DB: Final = (0.0, -6.0, -10.0)  # mains hum and its second and third harmonic, re the first (estimate)
MOTOR_DB: Final = (-3.0, -9.0, -15.0)  # tone of the motor and two harmonics, re the motor's whole level (estimate)


@component
class Room:
    """Sounds at the microphone that are not the string's.

    Law: noise of a total level over 20 Hz to 20 kHz whose density falls by ``noise_slope_db_octave``; hum is three
    steady tones at multiples of the mains; a turning motor adds noise of its own level with a tone and two harmonics.

    Fails when: somebody speaks, or the neighbour tunes as well: such sounds have a pitch, and are not in here.

    Source: 30 to 40 dB are quiet living rooms (common practice); slope, hum and motor levels are estimates.
    """

    noise_db_spl: Annotated[float, Field(ge=-100, le=120)]
    """Level of the room's noise, without weighting. A sound level meter on a telephone tells it roughly."""

    noise_slope_db_octave: Annotated[float, Field(ge=-12, le=6)]
    """Change of the noise's density over an octave. -5 for rooms, 0 for white noise."""

    mains_hz: Positive
    """Frequency of the mains: 50 or 60."""

    hum_db_spl: Annotated[float, Field(ge=-100, le=120)]
    """Hum as the level of the sound that would give as much at the microphone. Record silence and look."""

    motor_db_spl: Annotated[float, Field(ge=-100, le=120)]
    """Level of motor and gear while they turn, at the microphone. Record it: it is often louder than the string."""

    motor_tone_hz: Positive
    """Strongest tone of the turning motor: its speed times gear teeth or commutator bars. Record it."""

    def noise_pa2_hz(self, hz: Floats) -> Floats:
        """Return the one-sided density of the noise, shape of ``hz``, in Pa^2/Hz."""
        exponent = self.noise_slope_db_octave / (10.0 * np.log10(2.0))
        grid = np.geomspace(LOWEST_HZ, HIGHEST_HZ, 400)
        total = np.trapezoid(grid**exponent, grid)
        shaped = np.maximum(hz, LOWEST_HZ) ** exponent / total
        density: Floats = np.where(hz <= HIGHEST_HZ, shaped, 0.0) * pressure_pa(self.noise_db_spl) ** 2
        return density

    def hum(self) -> tuple[Floats, Floats]:
        """Return frequencies and peak pressures of the hum's tones, in Hz and Pa."""
        return self._tones(self.mains_hz, self.hum_db_spl, HUM_DB)

    def motor(self) -> tuple[Floats, Floats]:
        """Return frequencies and peak pressures of the turning motor's tones, in Hz and Pa."""
        return self._tones(self.motor_tone_hz, self.motor_db_spl, MOTOR_DB)

    @staticmethod
    def _tones(hz: float, level_db_spl: float, levels_db: tuple[float, ...]) -> tuple[Floats, Floats]:
        numbers = np.arange(1.0, len(levels_db) + 1.0)
        return hz * numbers, math.sqrt(2.0) * np.array([pressure_pa(level_db_spl + each) for each in levels_db])
