"""Harmonic product: the pitch whose first partials multiply to the largest product of magnitudes."""

from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from models.component import Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import heard, ordered, scaled
from models.detectors.periodicity import MULTIPLIES_PER_SAMPLE, periodicity
from models.detectors.spectrum import Values, highest_line, line_range, magnitudes, parabola, shortest_window
from models.messages import Estimate


@component
class HarmonicProduct:
    """Pitch from the largest product of the magnitudes of the first partials.

    Law: the ``f`` of the largest ``|X(f)| |X(2f)| ... |X(Rf)|``, by a parabola on its logarithm. On a stiff string it
    reads ``865.6 B sum n^2 (n^2 - 1) / sum n^2`` cents sharp of the first partial, 10.8 times 865.6 B for four.

    Fails when: one of the partials is missing (an octave or more off); the highest lies above half the rate: the range
    ends where it does, so that high strings are not heard at 1024 samples a second.

    Source: product spectrum after Schroeder 1968 (from memory); bias is independent arithmetic.
    """

    lowest_hz: Positive
    """Lowest pitch searched. Below the slackest string that is to be heard."""

    highest_hz: Positive
    """Highest pitch searched. Above the tightest string that is to be heard."""

    partials: Annotated[int, Field(ge=2, le=8)]
    """Partials multiplied, R. 3 to 5 is usual; the pitch ends at rate / (2 R)."""

    padding: Literal[1, 2, 4]
    """Length of the transform in windows, filled with zeros. 4 finds the first partial between lines."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "HarmonicProduct":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch and periodicity of one window; ``NOT_HEARD`` for silence, noise or too few samples."""
        sound = scaled(samples)
        if len(samples) < self.least_samples(rate_hz) or not sound.any():
            return NOT_HEARD
        bin_hz = rate_hz / len(sound)
        product = self._product(magnitudes(sound, self.padding))
        lines = line_range(self.lowest_hz / bin_hz, self.highest_hz / bin_hz, len(product), self.padding)
        if not lines:
            return NOT_HEARD
        line = highest_line(product, lines)
        pitch_hz = (line + float(parabola(product, np.array([line]))[0])) / self.padding * bin_hz
        return heard(pitch_hz, periodicity(sound, rate_hz, pitch_hz), self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return four of the longest periods: the lobes of two partials stay apart."""
        return shortest_window(rate_hz, self.lowest_hz)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return transform, magnitudes, products of all candidates, a parabola and the periodicity."""
        points = samples * self.padding
        top = min(self.highest_hz, rate_hz / (2.0 * self.partials))
        candidates = max(0.0, top - self.lowest_hz) * points / rate_hz
        return Work(
            butterflies=points * float(np.log2(max(2, points))),
            multiplies=candidates * self.partials + points + (1.0 + MULTIPLIES_PER_SAMPLE) * samples,
            functions=points / 2.0 + 5.0,
            words=2 * points + samples,
        )

    def _product(self, heights: Values) -> Values:
        """Return the product for every line whose highest partial lies inside the spectrum."""
        candidates = (len(heights) - 1) // self.partials + 1
        stretched = [heights[::number][:candidates] for number in range(1, self.partials + 1)]
        product: Values = np.prod(stretched, axis=0)
        return product
