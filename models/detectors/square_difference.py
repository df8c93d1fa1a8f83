"""Normalised square difference: the first lag at which a window repeats itself almost as well as anywhere."""

import math
from collections.abc import Iterator
from typing import Annotated, Final, Literal

import numpy as np
from pydantic import Field, model_validator

from models.component import Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import (
    Values,
    crests,
    heard,
    key_maxima,
    ordered,
    scaled,
    searched,
    shortest_window,
    square_difference,
    vertex,
)
from models.messages import Estimate

FAR_SHARE: Final = 2.0 / 3.0  # of a window: lag x overlap^(1/2), the sharpness of a delay, is largest there
FAR_REACH: Final = 0.2  # periods around the expected place; estimate
FAR_FALL: Final = 0.8  # of the first crest, below which a multiple is left; estimate


@component
class SquareDifference:
    """Pitch from the key maxima of the normalised square difference.

    Law: ``n(T) = 2 r(T) / m(T)``; of the highest crests between rising and falling zeros, the first that reaches
    ``share_of_highest`` of the best; place and height by a parabola. With ``far-multiple`` the place is then followed
    to 2, 3, 4, 6, 9, ... periods, up to two thirds of the window, and divided by their number.

    Fails when: a period has less than about ten samples, because the crest between two lags is cut and two or more
    periods win; with ``period`` a parabola is off by 1 cent there, by more where high partials are strong. Stiff
    strings read sharp of their first partial, less so with ``far-multiple``.

    Source: McLeod & Wyvill 2005; the far multiple is independent arithmetic, its limits are estimates.
    """

    lowest_hz: Positive
    """Lowest pitch searched, to the whole lag. Below the slackest string that is to be heard."""

    highest_hz: Positive
    """Highest pitch searched, to the whole lag. Above the tightest string that is to be heard."""

    share_of_highest: Annotated[float, Field(gt=0, le=1)]
    """Share of the best key maximum that the first one must reach. 0.8 to 1 as published, 0.9 is usual."""

    refine: Literal["period", "far-multiple"]
    """Whether the place is read at one period or at the furthest multiple that still repeats well."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "SquareDifference":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch and periodicity of one window; ``NOT_HEARD`` for silence, noise or too few samples."""
        lags = searched(len(samples), rate_hz, self.lowest_hz, self.highest_hz)
        if not lags:
            return NOT_HEARD
        values = square_difference(scaled(samples))
        tops = [vertex(values, int(lag)) for lag in key_maxima(values, lags)]
        if not tops:
            return NOT_HEARD
        enough = self.share_of_highest * max(height for _, height in tops)
        lag, height = next(top for top in tops if top[1] >= enough)
        period = _followed(values, lag, height) if self.refine == "far-multiple" else lag
        return heard(rate_hz / period, height, self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return two of the longest periods and a lag on each side."""
        return shortest_window(rate_hz, self.lowest_hz)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return the direct sums of all lags up to the longest, each with a division, and those of far multiples."""
        searching = searched(samples, rate_hz, self.lowest_hz, self.highest_hz)
        lags = searching.stop if searching else 0
        far = self._far_lags(samples, lags) if lags else 0
        return Work(
            butterflies=0.0,
            multiplies=float((samples + 2) * (lags + far)),
            functions=float(lags + far + 1),
            words=samples + 2 * lags,
        )

    def _far_lags(self, samples: int, period: int) -> int:
        if self.refine == "period":
            return 0
        return sum(math.ceil(2.0 * FAR_REACH * period) + 3 for _ in _multiples(samples, period))


def _multiples(samples: int, period: float) -> Iterator[int]:
    """Yield 2, 3, 4, 6, 9, ... as far as that many periods, and the reach behind them, fit into the share."""
    multiple = 2
    while (multiple + FAR_REACH) * period < FAR_SHARE * samples:
        yield multiple
        multiple = max(multiple + 1, multiple * 3 // 2)


def _followed(values: Values, period: float, height: float) -> float:
    """Return the period by its furthest multiple whose crest still stands above a share of ``height``."""
    best = period
    for multiple in _multiples(len(values), period):
        reach = FAR_REACH * period
        near = range(math.floor(multiple * best - reach), math.ceil(multiple * best + reach) + 1)
        found = crests(values, near)
        if not found.size:
            break
        lag, reached = vertex(values, int(found[np.argmax(values[found])]))
        if reached <= FAR_FALL * height:
            break
        best = lag / multiple
    return best
