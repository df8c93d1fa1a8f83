"""Difference function: the first lag at which a window differs little from its shifted self."""

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from models.component import Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import (
    crests,
    difference,
    heard,
    mean_normalised,
    ordered,
    scaled,
    searched,
    shortest_window,
    vertex,
)
from models.messages import Estimate


@component
class DifferenceFunction:
    """Pitch from the first deep dip of the cumulative mean normalised difference.

    Law: ``d(T) = sum_(j < W) (x[j] - x[j + T])^2`` and ``d'(T) = d(T) T / sum_(t <= T) d(t)``; the first dip of ``d'``
    below the threshold, else its deepest one; place by a parabola on ``d``, which is free of the slope of ``d'``;
    periodicity ``1 - d'``.

    Fails when: a period has less than about ten samples, because no dip is below the threshold between two lags; noise
    lifts all dips above it, because the deepest one is then often at a multiple of the period. Stiff strings read
    sharp of their first partial.

    Source: de Cheveigne & Kawahara 2002.
    """

    lowest_hz: Positive
    """Lowest pitch searched, to the whole lag. Below the slackest string that is to be heard."""

    highest_hz: Positive
    """Highest pitch searched, to the whole lag. Above the tightest string that is to be heard."""

    threshold: Annotated[float, Field(gt=0, lt=1)]
    """Depth of a dip that is taken at once. 0.1 to 0.15 as published."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "DifferenceFunction":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch and periodicity of one window; ``NOT_HEARD`` for silence, noise or too few samples."""
        lags = searched(len(samples), rate_hz, self.lowest_hz, self.highest_hz)
        if not lags:
            return NOT_HEARD
        differences = difference(scaled(samples), len(samples) - lags.stop)
        normalised = mean_normalised(differences)
        dips = crests(-normalised, lags)
        if not dips.size:
            return NOT_HEARD
        deep = dips[normalised[dips] < self.threshold]
        chosen = int(deep[0] if deep.size else dips[np.argmin(normalised[dips])])
        lag, _ = vertex(differences, chosen)
        return heard(rate_hz / lag, 1.0 - vertex(normalised, chosen)[1], self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return two of the longest periods and a lag on each side."""
        return shortest_window(rate_hz, self.lowest_hz)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return the direct sums of all lags up to the longest, each normalised by a division, and two parabolas."""
        searching = searched(samples, rate_hz, self.lowest_hz, self.highest_hz)
        lags = searching.stop if searching else 0
        multiplies = float((samples - lags) * lags)
        return Work(butterflies=0.0, multiplies=multiplies, functions=lags + 2.0, words=samples + 2 * lags)
