"""The circuit as the ear uses it: one complex gain for every frequency, and the noise that samples carry."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.hearing.front_end import FrontEnd
from models.hearing.microphone import Microphone
from models.hearing.room import Room

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

STEP_HZ: Final = 2.0  # of the table of gains: small beside any corner of a filter
HIGHEST_HZ: Final = 24000.0  # the table ends here; what lies above is not heard


@dataclass(frozen=True, slots=True)
class Circuit:
    """Microphone and front end in a room, as tables of frequency."""

    gains: Complexes
    """Volts at the converter per pascal, every ``STEP_HZ`` from 0."""
    noise_v2_hz: Floats
    """One-sided density of the noise at the converter, at the same frequencies."""
    low_v: float
    """Lowest output re its rest."""
    high_v: float
    """Highest output re its rest."""
    rest_v: float
    """Output at rest, above the lower end of the converter's range."""

    def gain(self, hz: Floats) -> Complexes:
        """Return volts per pascal at any frequencies, by straight lines in the table."""
        place = np.minimum(np.abs(hz) / STEP_HZ, len(self.gains) - 1.001)
        lower = place.astype(np.intp)
        share = place - lower
        found: Complexes = self.gains[lower] * (1.0 - share) + self.gains[lower + 1] * share
        return found

    def folded_noise_v(self, points: int, rate_hz: float) -> Floats:
        """Return the rms noise of each spectral line of ``points`` samples, all bands folded into the first.

        Shape (points // 2 + 1,). The square sum of the lines is the power of the sampled noise.
        """
        return _folded(lambda hz: np.interp(hz, _grid(), self.noise_v2_hz), points, rate_hz)

    def folded_burst_v(self, points: int, rate_hz: float) -> Floats:
        """Return the same for white sound of 1 Pa rms over the table's whole band, through the circuit."""
        density = np.abs(self.gains) ** 2 / HIGHEST_HZ
        return _folded(lambda hz: np.interp(hz, _grid(), density), points, rate_hz)


def circuit(microphone: Microphone, front_end: FrontEnd, room: Room) -> Circuit:
    """Return the tables of a microphone and a front end in a room."""
    hz = _grid()
    to_volts, after = microphone.response(hz), front_end.response(hz)
    sound = room.noise_pa2_hz(hz) * np.abs(to_volts) ** 2
    own = microphone.noise_pa2_hz() * microphone.sensitivity_v_pa() ** 2
    low_v, high_v = front_end.window_v()
    return Circuit(
        gains=to_volts * after,
        noise_v2_hz=(sound + own) * np.abs(after) ** 2 + front_end.noise_v2_hz(hz, microphone.output_ohm),
        low_v=low_v,
        high_v=high_v,
        rest_v=front_end.bias_v,
    )


def _grid() -> Floats:
    return np.arange(0.0, HIGHEST_HZ + STEP_HZ, STEP_HZ)


def _folded(density: Callable[[Floats], Floats], points: int, rate_hz: float) -> Floats:
    """Fold a density sampled at ``rate_hz`` and return the rms of each line of a real spectrum."""
    lines = np.arange(points // 2 + 1) * rate_hz / points
    bands = np.arange(int(np.ceil(HIGHEST_HZ / rate_hz)) + 1)[:, None] * rate_hz
    above = np.where(lines + bands <= HIGHEST_HZ, density(lines + bands), 0.0)
    below = np.where((bands - lines > 0.0) & (bands - lines <= HIGHEST_HZ), density(np.abs(bands - lines)), 0.0)
    once = (lines == 0.0) | (lines == rate_hz / 2.0)  # these lines have no partner
    power = (above + below).sum(axis=0) * rate_hz / points * np.where(once, 0.5, 1.0)
    found: Floats = np.sqrt(power)
    return found
