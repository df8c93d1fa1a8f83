"""Autocorrelation: the lag at which a window resembles itself most."""

from operator import itemgetter

from pydantic import model_validator

from models.component import Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import crests, heard, ordered, products, scaled, searched, shortest_window, vertex
from models.detectors.periodicity import periodicity
from models.messages import Estimate


@component
class Autocorrelation:
    """Pitch from the highest crest of the autocorrelation.

    Law: ``r(T) = sum_j x[j] x[j + T]`` over the samples that both copies have; the largest crest in the search range,
    place and height by a parabola through three lags; ``pitch = rate / T``.

    Fails when: the search range is wide and a period has less than about ten samples, because the crest of two periods
    may fall nearer to a whole lag and win; the window has few periods, because the falling overlap pulls the crest to
    shorter lags. Stiff strings read sharp of their first partial.

    Source: sum and parabola are common practice; failures measured with another implementation.
    """

    lowest_hz: Positive
    """Lowest pitch searched, to the whole lag. Below the slackest string that is to be heard."""

    highest_hz: Positive
    """Highest pitch searched, to the whole lag. Above the tightest string that is to be heard."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "Autocorrelation":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch and periodicity of one window; ``NOT_HEARD`` for silence, noise or too few samples."""
        lags = searched(len(samples), rate_hz, self.lowest_hz, self.highest_hz)
        if not lags:
            return NOT_HEARD
        sound = scaled(samples)
        sums = products(sound, sound)
        tops = [vertex(sums, int(lag)) for lag in crests(sums, lags)]
        if not tops:
            return NOT_HEARD
        lag, _ = max(tops, key=itemgetter(1))
        return heard(rate_hz / lag, periodicity(sound, rate_hz, rate_hz / lag), self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return two of the longest periods and a lag on each side."""
        return shortest_window(rate_hz, self.lowest_hz)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return the direct sums of the search range, one parabola, and the periodicity at its place."""
        lags = len(searched(samples, rate_hz, self.lowest_hz, self.highest_hz)) + 2
        return Work(butterflies=0.0, multiplies=float(samples * (lags + 3)), functions=2.0, words=samples + 2 * lags)
