"""Spectrum peak: the largest line of a Fourier transform inside the search range."""

from typing import Annotated, Final, Literal

import numpy as np
from pydantic import Field, model_validator

from models.component import Positive, Share, component
from models.detectors.base import NOT_HEARD, Samples, Work
from models.detectors.fixed_point import HALF_STEP, transform, windowed
from models.detectors.lags import heard, ordered, scaled
from models.detectors.periodicity import MULTIPLIES_PER_SAMPLE, periodicity
from models.detectors.spectrum import (
    Values,
    hann_ratio,
    highest_line,
    line_range,
    magnitudes,
    parabola,
    shortest_window,
)
from models.messages import Estimate

FUNCTIONS: Final = {"bin": 1, "parabola": 5, "hann-ratio": 3}  # logarithms and quotients of one reading


@component
class SpectrumPeak:
    """Pitch from the largest line of a Hann spectrum, which may be any partial.

    Law: ``pitch = (line + offset) * rate / N``, the offset 0, or the vertex of a parabola through three log magnitudes,
    or ``(2 r - 1) / (r + 1)`` toward the larger neighbour. A bin is ``rate / N`` wide, 82 cents at E2 for 256 samples
    at 1024 a second.

    Fails when: the range holds a second partial that is stronger than the first, as in an open range on most low
    strings (an octave up); without interpolation, by up to half a bin; fewer than eight periods fit the window (the
    mirror image pulls by cents); in 16 bits, when the samples shifted left stay below 2^11 steps. Sixteen bits need a
    power of 2: of other windows the end is left out.

    Source: bias of interpolations is independent arithmetic; figures of the window after Harris 1978.
    """

    lowest_hz: Positive
    """Lowest pitch searched. Above half of it a gate around the target keeps octaves out."""

    highest_hz: Positive
    """Highest pitch searched. Below twice the target a gate keeps the second partial out."""

    interpolation: Literal["bin", "parabola", "hann-ratio"]
    """How the place between lines is found: not at all, by three logarithms, or by one quotient (the best)."""

    padding: Literal[1, 2, 4]
    """Length of the transform in windows, filled with zeros. More lines, more memory, better parabolas."""

    arithmetic: Literal["float", "fixed-16"]
    """Numbers of the transform: floating point, or 16-bit integers halved after each stage."""

    shift_bits: Annotated[int, Field(ge=0, le=12)]
    """Left shift of the samples before a 16-bit transform. So that the usual peak comes to 2^11 to 2^14 steps."""

    least_periodicity: Share
    """Periodicity below which nothing is heard. SNR/(1 + SNR): 0.5 is 0 dB, 0.8 is 6 dB."""

    @model_validator(mode="after")
    def _searches_upwards(self) -> "SpectrumPeak":
        ordered(self.lowest_hz, self.highest_hz)
        return self

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch of the largest line and periodicity; ``NOT_HEARD`` for silence, noise or too few samples."""
        sound = scaled(samples)
        if len(samples) < self.least_samples(rate_hz) or not sound.any():
            return NOT_HEARD
        heights, used = self._heights(samples, sound)
        bin_hz = rate_hz / used
        lines = line_range(self.lowest_hz / bin_hz, self.highest_hz / bin_hz, len(heights), self.padding)
        if not lines:
            return NOT_HEARD
        pitch_hz = self._place(heights, highest_line(heights, lines)) * bin_hz
        return heard(pitch_hz, periodicity(sound, rate_hz, pitch_hz), self.least_periodicity)

    def least_samples(self, rate_hz: float) -> int:
        """Return four of the longest periods, so that the lobes of two partials stay apart; a power of 2 in 16 bits."""
        least = shortest_window(rate_hz, self.lowest_hz)
        return least if self.arithmetic == "float" else 1 << (least - 1).bit_length()

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return transform, window, magnitudes inside the range, interpolation and periodicity."""
        points = samples * self.padding
        lines = max(0.0, min(self.highest_hz, rate_hz / 2.0) - self.lowest_hz) * points / rate_hz
        return Work(
            butterflies=points * float(np.log2(max(2, points))),
            multiplies=2.0 * lines + (1.0 + MULTIPLIES_PER_SAMPLE) * samples,
            functions=FUNCTIONS[self.interpolation] + 1.0,
            words=2 * points + samples,
        )

    def _heights(self, samples: Samples, sound: Samples) -> tuple[Values, int]:
        """Return magnitudes, and of how many samples: in 16 bits a power of 2, and at least half a step high."""
        if self.arithmetic == "float":
            return magnitudes(sound, self.padding), len(sound)
        used = 1 << (len(samples).bit_length() - 1)
        steps = np.zeros(used * self.padding, dtype=np.int64)
        steps[:used] = windowed(samples[:used], self.shift_bits)
        return np.maximum(np.abs(transform(steps)), HALF_STEP), used

    def _place(self, heights: Values, line: int) -> float:
        """Return the peak's place in bins."""
        lines = np.array([line])
        if self.interpolation == "parabola":
            return (line + float(parabola(heights, lines)[0])) / self.padding
        if self.interpolation == "hann-ratio":
            return line / self.padding + float(hann_ratio(heights, lines, self.padding)[0])
        return line / self.padding
