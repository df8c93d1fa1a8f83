"""Harmonic comb: the octave by the sum over partials, the pitch by weighted least squares over their peaks."""

from typing import Annotated, Final, Literal

import numpy as np
from pydantic import Field, model_validator

from models.component import NonNegative, Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import heard, ordered, scaled
from models.detectors.periodicity import MULTIPLIES_PER_SAMPLE, periodicity
from models.detectors.spectrum import (
    TINY,
    Lines,
    Values,
    best_tooth,
    comb,
    hann_ratio,
    magnitudes,
    multiples,
    shortest_window,
)
from models.messages import Estimate

KEEP: Final = 0.85  # share of the best score that a higher pitch needs; measured: least octave errors of 0.7 to 0.95
AGREE_BINS: Final = 0.3  # distance from the consensus at which a peak's weight falls to a quarter; estimate


@component
class HarmonicComb:
    """Pitch of the first partial from all strong partials of a string whose inharmonicity is known.

    Law: the candidate ``f`` of the largest sum of Hann magnitudes at ``f_n = n f sqrt((1 + B n^2) / (1 + B))``, each
    less the median line; then each partial's peak by the ratio of neighbours, over its multiple, averaged with the
    weights ``(n A_n)^2``. Peaks that disagree with the weighted median, as folded ones or neighbours do, count little.

    Fails when: the told inharmonicity is wrong, by the share of 865.6 B n^2 cents that the strong partials have; few
    partials lie below half the rate and folded ones fill the gaps, in an open range (an octave down); the first partial
    lies 20 dB below the second (an octave up).

    Source: the weights are those of the Cramer-Rao bound of a harmonic sound (independent arithmetic); spread 0.4 cent
    at 20 dB on low strings, 256 samples at 1024 a second (measured with another implementation).
    """

    lowest_hz: Positive
    """Lowest pitch searched. Below the slackest string that is to be heard."""

    highest_hz: Positive
    """Highest pitch searched. Above the tightest string that is to be heard."""

    partials: Annotated[int, Field(ge=1, le=16)]
    """Partials that are summed and fitted. 4 to 8 is usual; higher ones decay fast."""

    padding: Literal[1, 2, 4]
    """Length of the transform in windows, filled with zeros. 1 suffices: the ratio of neighbours needs no more."""

    inharmonicity: NonNegative
    """B of ``f_n = n f0 sqrt(1 + B n^2)`` as the firmware believes it. From the string's stiffness; 0 if unknown."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "HarmonicComb":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch of the first partial and periodicity; ``NOT_HEARD`` for silence, noise or too few samples."""
        if len(samples) < self.least_samples(rate_hz):
            return NOT_HEARD
        sound = scaled(samples)
        heights = magnitudes(sound, self.padding)
        coarse = self._coarse(heights, rate_hz / len(sound))
        if not coarse:
            return NOT_HEARD
        pitch_hz = self._fitted(heights, coarse) * rate_hz / len(sound)
        return heard(pitch_hz, periodicity(sound, rate_hz, pitch_hz), self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return four of the longest periods: the lobes of two partials stay apart."""
        return shortest_window(rate_hz, self.lowest_hz)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return transform, look-ups of all candidates, and a ratio, a weight and a quotient for each partial."""
        points = float(samples * self.padding)
        highest = min(self.highest_hz, rate_hz / 2.0)
        candidates = max(0.0, highest - self.lowest_hz) * samples / rate_hz * 2.0 * self.partials
        return Work(
            butterflies=points * float(np.log2(max(2.0, points))),
            multiplies=candidates * self.partials + (1.0 + MULTIPLIES_PER_SAMPLE) * samples,
            functions=points / 2.0 + 4.0 * self.partials,
            words=2 * samples * self.padding + samples,
        )

    def _coarse(self, heights: Values, bin_hz: float) -> float:
        """Return the best candidate in bins; 0 where nothing stands out of the median line."""
        span = (self.lowest_hz / bin_hz, self.highest_hz / bin_hz)
        candidates, teeth = comb(*span, len(heights), self.padding, self.partials, self.inharmonicity)
        above = np.append(heights - np.median(heights), 0.0)
        scores = above[teeth].sum(axis=0)
        if not len(scores) or scores.max() <= 0.0:
            return 0.0
        return float(candidates[best_tooth(scores, KEEP, 2 * self.partials)])

    def _fitted(self, heights: Values, coarse: float) -> float:
        """Return the pitch in bins by least squares over the partials near their multiples of ``coarse``."""
        numbers = multiples(self.partials, self.inharmonicity)
        numbers = numbers[numbers * coarse * self.padding < len(heights) - 1 - self.padding]
        peaks = _peaks(heights, numbers * coarse, self.padding)
        pitches = (peaks / self.padding + hann_ratio(heights, peaks, self.padding)) / numbers
        weights = (numbers * heights[peaks]) ** 2 + TINY
        off = (pitches - _middle(pitches, weights)) * numbers / AGREE_BINS
        weights = weights / (1.0 + off**2) ** 2
        return float(weights @ pitches / weights.sum())


def _peaks(heights: Values, bins: Values, padding: int) -> Lines:
    """Return the highest line within a bin of each place, a bin off both ends of the spectrum."""
    near = np.rint(bins * padding).astype(np.intp) + np.arange(-padding, padding + 1)[:, None]
    near = near.clip(padding, len(heights) - 1 - padding)
    peaks: Lines = near[heights[near].argmax(axis=0), np.arange(len(bins))]
    return peaks


def _middle(values: Values, weights: Values) -> float:
    """Return the weighted median."""
    order = values.argsort()
    sums = weights[order].cumsum()
    return float(values[order][sums.searchsorted(sums[-1] / 2.0)])
