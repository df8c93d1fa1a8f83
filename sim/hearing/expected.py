"""What theory expects of a window of a pluck: signal over noise, the Cramer-Rao bound, the bias of a period."""

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.detectors.bound import harmonic_hz
from models.hearing.signal import SignalEar
from models.units import CENTS_PER_OCTAVE

Floats = NDArray[np.float64]

CENTS_PER_RATIO: Final = CENTS_PER_OCTAVE / np.log(2.0)  # of a small change of pitch


class Expected(NamedTuple):
    """What is expected at one instant after a pluck."""

    bound_cents: float
    """Cramer-Rao bound of the pitch of all partials below half the rate."""
    snr_db: float
    """String over noise; minus infinity without a string, infinity without noise."""
    inharmonic_cents: float
    """How sharp of the first partial a period reads, partials below half the rate weighted by ``(n A)^2``."""


@dataclass(frozen=True, slots=True)
class Tones:
    """The partials of one pluck behind the circuit, both polarisations, and the noise beside them."""

    first_hz: float
    numbers: Floats
    """Number of the partial, shape (tones,) like the next three."""
    ratios: Floats
    """Frequency over that of the first partial at rest."""
    peaks_v: Floats
    """At the pluck."""
    decays_s: Floats
    noise_v: float
    """Rms of circuit, room and rounding to steps, all bands folded."""
    samples: int
    rate_hz: float
    """Samples really taken a second."""

    def expected(self, since_s: float) -> Expected:
        """Return what is expected of a window whose centre lies ``since_s`` after the pluck."""
        now = self.peaks_v * np.exp(-self.decays_s * since_s)
        below = self.ratios * self.first_hz < self.rate_hz / 2.0
        bound_hz = harmonic_hz(
            now[below].tolist(), self.ratios[below].tolist(), self.noise_v, self.samples, self.rate_hz
        )
        return Expected(
            bound_cents=CENTS_PER_RATIO * bound_hz / self.first_hz,
            snr_db=float(self.snr_db(np.array([since_s]))[0]),
            inharmonic_cents=self._inharmonic_cents(now * below),
        )

    def snr_db(self, since_s: Floats) -> Floats:
        """Return string over noise at instants after the pluck, shape (instants,)."""
        powers = (self.peaks_v**2 / 2.0) @ np.exp(-2.0 * np.outer(self.decays_s, since_s))
        with np.errstate(divide="ignore"):
            found: Floats = 10.0 * np.log10(powers / self.noise_v**2)
        return found

    def _inharmonic_cents(self, now: Floats) -> float:
        weights = (self.numbers * now) ** 2
        if not weights.any():
            return 0.0
        return float(np.average(CENTS_PER_OCTAVE * np.log2(self.ratios / self.numbers), weights=weights))


def tones(ear: SignalEar, first_hz: float, level_db: float, stream: np.random.Generator) -> Tones:
    """Return the tones of a pluck at a level re the usual one, as an ear's converter meets them."""
    partials = ear.scene.voice.partials(first_hz, level_db, stream)
    circuit_v = ear.noise_scale * sqrt(float(ear.noise_v @ ear.noise_v))
    return Tones(
        first_hz=first_hz,
        numbers=np.tile(ear.scene.voice.sound.numbers(), 2),
        ratios=partials.ratios,
        peaks_v=np.abs(partials.amplitudes * ear.circuit.gain(partials.ratios * first_hz)),
        decays_s=partials.decays_s,
        noise_v=hypot(circuit_v, ear.converter.step_v() / sqrt(12.0)),
        samples=ear.listening.window_samples,
        rate_hz=ear.converter.true_hz(),
    )
