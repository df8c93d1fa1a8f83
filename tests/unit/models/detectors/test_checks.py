"""The shipped check accepts a good detector and names each breach in one sentence."""

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
import pytest

from models.detectors.autocorrelation import Autocorrelation
from models.detectors.base import NOT_HEARD, Samples
from models.detectors.checks import check_detector
from models.detectors.difference import DifferenceFunction
from models.detectors.square_difference import SquareDifference
from models.detectors.zero_crossing import ZeroCrossing
from models.messages import Estimate

SEARCH = {"lowest_hz": 35.0, "highest_hz": 800.0, "least_periodicity": 0.5}
MOST_CENTS = {
    "zero crossing": (ZeroCrossing(**SEARCH, hysteresis_share=0.3), 3.0),
    "autocorrelation": (Autocorrelation(**SEARCH), 6.0),
    "difference": (DifferenceFunction(**SEARCH, threshold=0.12), 6.0),
    "square difference": (SquareDifference(**SEARCH, share_of_highest=0.9, refine="period"), 6.0),
    "far multiple": (SquareDifference(**SEARCH, share_of_highest=0.9, refine="far-multiple"), 0.1),
}
"""Stated biases down to 12 samples a period; a parabola through few lags is what they are made of."""


@pytest.mark.parametrize("name", MOST_CENTS)
def test_lag_detectors_read_steady_tones_within_their_bias(name: str) -> None:
    detector, most_cents = MOST_CENTS[name]
    check_detector(detector, most_cents=most_cents)


@dataclass(frozen=True)
class Good:
    """A detector of a user's own; each bad one below breaks one sentence of the contract."""

    lowest_hz: float = 60.0
    least_periodicity: ClassVar[float] = 0.5

    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        return self.inner().estimate(samples, rate_hz)

    def inner(self) -> SquareDifference:
        return SquareDifference(
            lowest_hz=self.lowest_hz,
            highest_hz=400.0,
            share_of_highest=0.9,
            refine="far-multiple",
            least_periodicity=self.least_periodicity,
        )


class Unfrozen(Good):
    __dict__: dict[str, Any]

    def __setattr__(self, name: str, value: Any) -> None:
        object.__setattr__(self, name, value)


class Deaf(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        return NOT_HEARD


class Sharp(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        found = super().estimate(samples, rate_hz)
        return Estimate(found.pitch_hz and found.pitch_hz * 1.003, found.periodicity)


class OctaveUp(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        found = super().estimate(samples, rate_hz)
        return Estimate(found.pitch_hz and found.pitch_hz * 2.0, found.periodicity)


class HearsSilence(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        return super().estimate(samples, rate_hz) if samples.any() else Estimate(110.0, 0.0)


class HearsNoise(Good):
    least_periodicity = 0.0


class Mutating(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        samples -= samples[0] if len(samples) else 0.0
        return super().estimate(samples, rate_hz)


class Impure(Good):
    calls: ClassVar[list[int]] = []

    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        self.calls.append(1)
        found = super().estimate(samples, rate_hz)
        return Estimate(found.pitch_hz and found.pitch_hz * (1.0 + 1e-7 * len(self.calls)), found.periodicity)


class Raising(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        return Estimate(None, samples[10] * 0.0) if len(samples) < 1000 else super().estimate(samples, rate_hz)


class Wordless(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        return super().estimate(samples, rate_hz).pitch_hz


class Zero(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        found = super().estimate(samples, rate_hz)
        return Estimate(found.pitch_hz or 0.0, found.periodicity)


class Undefined(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        return Estimate(float("nan"), 0.5)


class Overconfident(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        found = super().estimate(samples, rate_hz)
        return Estimate(found.pitch_hz, 1.5 * found.periodicity)


class Overflowing(Good):
    def estimate(self, samples: Samples, rate_hz: float) -> Any:
        found = super().estimate(samples, rate_hz)
        energy = float(np.sum((samples * 1e10) ** 2)) if len(samples) else 0.0
        return Estimate(found.pitch_hz, found.periodicity * energy / energy if energy else 0.0)


class Endless(Good):
    def least_samples(self, rate_hz: float) -> Any:
        return float("inf")


class Free(Good):
    def work(self, samples: int, rate_hz: float) -> Any:
        return (0.0, -1.0, 0.0, samples)


class Choosy(Good):
    def least_samples(self, rate_hz: float) -> Any:
        return None


def test_a_good_detector_passes() -> None:
    check_detector(Good(), most_cents=0.2)


@pytest.mark.parametrize(
    ("bad", "sentence"),
    [
        (Unfrozen(), "lowest_hz can be set"),
        (Deaf(), "it must hear a steady tone of .* got no reading"),
        (Sharp(), r"within 3 cents, got \+5"),
        (OctaveUp(), r"within 3 cents, got \+1(199|200)"),
        (HearsSilence(), "silence must give no reading"),
        (HearsNoise(), "white noise must give no reading"),
        (Mutating(), "must not change the samples"),
        (Impure(), "estimate must be pure"),
        (Raising(), "a window of 0 samples at 4000/s raised IndexError"),
        (Wordless(), "must return Estimate"),
        (Zero(), "a pitch must be None or lie above 0 .* got 0.0 Hz of silence"),
        (Undefined(), "a pitch must be None or lie above 0 .* got nan"),
        (Overconfident(), "periodicity must lie in 0..1, got 1.49"),
        (Overflowing(), "of huge samples at 4000/s raised|got nan of huge samples"),
        (Endless(), "least_samples must be finite and 0 or more, got inf"),
        (Choosy(), "least_samples must be finite and 0 or more, got None"),
        (Free(), "work must be finite and 0 or more"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, Good) else "",
)
def test_each_breach_is_named(bad: Any, sentence: str) -> None:
    with pytest.raises(AssertionError, match=sentence):
        check_detector(bad)


def test_a_search_range_that_no_tone_fits_is_said() -> None:
    with pytest.raises(AssertionError, match="no tone to try at 1024/s in 256 samples: give another rate"):
        check_detector(Good(lowest_hz=90.0), rates=(1024.0,), samples=(256,))
