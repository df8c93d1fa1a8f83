"""Phase difference: how far the phase of the largest peak moves from one half of the window to the other."""

import cmath
from math import pi

import numpy as np
from pydantic import model_validator

from models.component import Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import heard, ordered, scaled
from models.detectors.periodicity import MULTIPLIES_PER_SAMPLE, periodicity
from models.detectors.spectrum import hann, hann_ratio, highest_line, line_range, magnitudes, shortest_window, tone
from models.messages import Estimate


@component
class PhaseDifference:
    """Pitch of the largest line in the search range, by the phase step between two half windows.

    Law: ``f + arg(conj(A) B) rate / (2 pi D)`` with ``A`` and ``B`` the Hann bins of the halves at ``f``, their starts
    ``D`` samples apart; ``f`` is the peak of the whole window by the ratio of neighbours, so near that one correction
    is all (a second one changes spreads by 1 %).

    Fails when: the first guess is more than ``rate / 2 D`` off; a second tone lies within four bins; the range holds a
    stronger second partial (an octave up); it hears one partial only, and the beats of its two polarisations.

    Source: phase step between frames after Brown & Puckette 1993 (from memory); two halves are common practice.
    """

    lowest_hz: Positive
    """Lowest pitch searched. Above half the target, to keep what lies an octave down out."""

    highest_hz: Positive
    """Highest pitch searched. Below twice the target, to keep the second partial out."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "PhaseDifference":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch of the largest line and periodicity; ``NOT_HEARD`` for silence, noise or too few samples."""
        sound = scaled(samples)
        if len(samples) < self.least_samples(rate_hz) or not sound.any():
            return NOT_HEARD
        coarse_hz = self._coarse(sound, rate_hz / len(sound))
        pitch_hz = coarse_hz + _correction(sound, coarse_hz, rate_hz) if coarse_hz else 0.0
        if not 0.0 < pitch_hz < rate_hz / 2.0:
            return NOT_HEARD
        return heard(pitch_hz, periodicity(sound, rate_hz, pitch_hz), self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return four of the longest periods: with two in each half the next partial meets a zero of the lobe."""
        return shortest_window(rate_hz, self.lowest_hz)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return the coarse transform, the bins of the halves, their angles and the periodicity."""
        lines = max(0.0, min(self.highest_hz, rate_hz / 2.0) - self.lowest_hz) * samples / rate_hz
        return Work(
            butterflies=samples * float(np.log2(max(2, samples))),
            multiplies=2.0 * lines + (4.0 + MULTIPLIES_PER_SAMPLE) * samples,
            functions=6.0,
            words=3 * samples,
        )

    def _coarse(self, sound: Samples, bin_hz: float) -> float:
        """Return the largest peak in the search range in hertz; 0 if the range is empty."""
        heights = magnitudes(sound)
        lines = line_range(self.lowest_hz / bin_hz, self.highest_hz / bin_hz, len(heights), 1)
        if not lines:
            return 0.0
        line = highest_line(heights, lines)
        return (line + float(hann_ratio(heights, np.array([line]), 1)[0])) * bin_hz


def _correction(sound: Samples, hz: float, rate_hz: float) -> float:
    """Return how many hertz the phase moves faster than ``hz`` from the first half to the second."""
    half = len(sound) // 2
    apart = len(sound) - half
    first, second = (tone(part * hann(half), hz, rate_hz) for part in (sound[:half], sound[apart:]))
    turned = first.conjugate() * second * cmath.exp(-2j * pi * hz * apart / rate_hz)
    return cmath.phase(turned) * rate_hz / (2.0 * pi * apart)
