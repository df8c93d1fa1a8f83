"""Least squares: the pitch at which the partials of a string explain most of the window. The reference detector."""

from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from models.component import NonNegative, Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.lags import heard, ordered, scaled
from models.detectors.periodicity import MULTIPLIES_PER_SAMPLE, periodicity
from models.detectors.spectrum import best_tooth, comb, hann, magnitudes, multiples, shortest_window
from models.messages import Estimate

PADDING: Final = 8  # lines to a bin of the first look
KEEP: Final = 0.9  # share of the best sum that a higher pitch needs
STEPS: Final = 3  # of Newton's method; each squares what is left of the error


@component
class LeastSquares:
    """Pitch of the first partial by approximate nonlinear least squares over partials with inharmonicity.

    Law: the ``f`` of the largest ``sum |X(f_n)|^2`` under a Hann window, ``f_n = n f sqrt((1 + B n^2) / (1 + B))``: the
    highest within 90 % of the best line of an 8 times padded transform, then three steps of Newton's method.

    Fails when: the told inharmonicity is wrong, by the share of 865.6 B n^2 cents that the strong partials have; the
    odd partials hold less than a tenth of the power, in an open range (an octave up). Too slow and too large for most
    small processors.

    Source: sum of powers is the maximum of likelihood of well separated tones in white noise (Rife & Boorstyn 1974 for
    one); Hann costs 1.53 of the bound.
    """

    lowest_hz: Positive
    """Lowest pitch searched. Below the slackest string that is to be heard."""

    highest_hz: Positive
    """Highest pitch searched. Above the tightest string that is to be heard."""

    partials: Annotated[int, Field(ge=1, le=16)]
    """Partials fitted. 4 to 8 is usual; higher ones decay fast."""

    inharmonicity: NonNegative
    """B of ``f_n = n f0 sqrt(1 + B n^2)`` as the firmware believes it. From the string's stiffness; 0 if unknown."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "LeastSquares":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch of the first partial and periodicity; ``NOT_HEARD`` for silence, noise or too few samples."""
        sound = scaled(samples)
        if len(samples) < self.least_samples(rate_hz) or not sound.any():
            return NOT_HEARD
        coarse = self._coarse(sound, rate_hz / len(sound))
        if not coarse:
            return NOT_HEARD
        pitch_hz = self._refined(sound, coarse) * rate_hz / len(sound)
        return heard(pitch_hz, periodicity(sound, rate_hz, pitch_hz), self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return four of the longest periods: the lobes of two partials stay apart."""
        return shortest_window(rate_hz, self.lowest_hz)

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return the padded transform, look-ups of all candidates, and bin, slope and bend of each partial a step."""
        points = samples * PADDING
        span = max(0.0, min(self.highest_hz, rate_hz / 2.0) - self.lowest_hz) * samples / rate_hz
        fits = STEPS * self.partials
        return Work(
            butterflies=points * float(np.log2(max(2, points))),
            multiplies=2.0 * span * self.partials**2 + points + (6.0 * fits + 1.0 + MULTIPLIES_PER_SAMPLE) * samples,
            functions=STEPS + 2.0 * fits + 2.0,
            words=2 * points + samples,
        )

    def _coarse(self, sound: Samples, bin_hz: float) -> float:
        """Return the best candidate in bins; 0 if there is none."""
        powers = magnitudes(sound, PADDING) ** 2
        span = (self.lowest_hz / bin_hz, self.highest_hz / bin_hz)
        candidates, teeth = comb(*span, len(powers), PADDING, self.partials, self.inharmonicity)
        scores = np.append(powers, 0.0)[teeth].sum(axis=0)
        return float(candidates[best_tooth(scores, KEEP, 2 * self.partials)]) if len(scores) else 0.0

    def _refined(self, sound: Samples, coarse: float) -> float:
        """Return the pitch in bins at the top of the sum that ``coarse`` is a candidate of."""
        numbers = multiples(self.partials, self.inharmonicity)
        numbers = numbers[numbers * coarse < len(sound) / 2.0 - 1.0]
        windowed = sound * hann(len(sound))
        step = 0.5 / self.partials
        pitch = coarse
        for _ in range(STEPS):
            slope, bend = _derivatives(windowed, numbers, pitch)
            pitch += float(np.clip(-slope / bend, -step, step)) if bend < 0.0 else 0.0
        return pitch


def _derivatives(windowed: Samples, numbers: NDArray[np.float64], pitch: float) -> tuple[float, float]:
    """Return first and second derivative of ``sum |X(n pitch)|^2``, with the pitch in bins."""
    time = (np.arange(len(windowed)) - len(windowed) / 2.0) * (-2j * np.pi / len(windowed))
    powers = np.stack((windowed, windowed * time, windowed * time**2))
    value, first, second = (np.exp(np.outer(numbers * pitch, time)) @ powers.T).T * numbers ** np.arange(3)[:, None]
    slope = 2.0 * (value.conj() * first).real.sum()
    bend = 2.0 * (np.abs(first) ** 2 + (value.conj() * second).real).sum()
    return float(slope), float(bend)
