"""Zero crossing with hysteresis: the cautionary example."""

from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from models.component import Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import heard, ordered, scaled, shortest_window
from models.detectors.periodicity import periodicity
from models.messages import Estimate


@component
class ZeroCrossing:
    """Pitch from the median time between rising zero crossings.

    Law: a rising crossing counts once the signal went from below ``-h`` to above ``h``, ``h`` a share of the window's
    peak; its time by a straight line between two samples; ``pitch = 1 / median interval``.

    Fails when: a partial is stronger than the first, as on most low strings: several crossings a period, an octave up
    or anything else; in hum and noise. It needs a filter for each string, and even then loses one reading in eight.

    Source: crossing with hysteresis is common practice; failures measured with another implementation.
    """

    lowest_hz: Positive
    """Lowest pitch accepted. Below the slackest string that is to be heard."""

    highest_hz: Positive
    """Highest pitch accepted. Above the tightest string that is to be heard."""

    hysteresis_share: Annotated[float, Field(ge=0, lt=1)]
    """Share of the window's peak that the signal must pass on both sides. 0.2 to 0.5 is common practice."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "ZeroCrossing":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch and periodicity of one window; ``NOT_HEARD`` for silence, noise or too few samples."""
        sound = scaled(samples)
        crossings = _rising(sound, self.hysteresis_share)
        if len(crossings) < 2:
            return NOT_HEARD
        pitch_hz = rate_hz / float(np.median(np.diff(crossings)))
        if not self.lowest_hz <= pitch_hz <= self.highest_hz:
            return NOT_HEARD
        return heard(pitch_hz, periodicity(sound, rate_hz, pitch_hz), self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return three of the longest periods: two crossings that count, wherever the window begins."""
        return shortest_window(rate_hz, self.lowest_hz / 1.5)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return comparisons and line of each sample, a division a crossing, and the periodicity at the pitch."""
        crossings = samples * min(0.5, self.highest_hz / rate_hz)
        return Work(butterflies=0.0, multiplies=8.0 * samples, functions=crossings + 2.0, words=samples)


def _rising(sound: Samples, level: float) -> NDArray[np.float64]:
    """Return the places, in samples, of rising zero crossings between a value below ``-level`` and one above it."""
    loud = np.flatnonzero(np.abs(sound) > level)
    above = sound[loud] > 0.0
    passed = loud[1:][above[1:] & ~above[:-1]]
    rising = np.flatnonzero((sound[:-1] <= 0.0) & (sound[1:] > 0.0))
    before = rising[np.searchsorted(rising, passed) - 1]
    return before + sound[before] / (sound[before] - sound[before + 1])
