"""What a pitch detector is: samples in, an estimate out. No state, no clock, input untouched.

``samples`` are steps of the converter without their mean, shape (N,), float64. ``rate_hz`` is the rate that the
firmware believes. ``None`` as a pitch means not heard; a pitch is never 0 Hz.
"""

from dataclasses import replace
from typing import Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from models.messages import Estimate

Samples = NDArray[np.float64]

NOT_HEARD = Estimate(None, 0.0)


class Work(NamedTuple):
    """What one estimate asks of a processor, as counts that its costs turn into time and memory."""

    butterflies: float
    """Points times stages of Fourier transforms: ``N log2 N`` for a real one of N points."""
    multiplies: float
    """Multiply-accumulate operations, table look-ups included."""
    functions: float
    """Divisions, roots, logarithms, angles."""
    words: int
    """Memory in words, each as wide as a sample in the processor."""


class Detector(Protocol):
    """A pitch detector; parameters are frozen, a call changes nothing."""

    def estimate(self, samples: Samples, rate_hz: float) -> Estimate:
        """Return pitch and periodicity (0 to 1) of one window; ``NOT_HEARD`` for silence, noise or too few samples."""

    def least_samples(self, rate_hz: float) -> int:
        """Return the shortest window that serves at this rate."""

    def work(self, samples: int, rate_hz: float) -> Work:
        """Return what one estimate of so many samples costs."""


def told(detector: Any, **known: float) -> Any:
    """Return a detector that was told what its parameters ask for.

    ``known`` are values such as ``lowest_hz``, ``highest_hz`` and ``inharmonicity``; those that the detector has no
    parameter for are left out, so that a user's own detector asks for what it wants by naming it.
    """
    fields = getattr(detector, "__dataclass_fields__", {})
    wanted = {name: value for name, value in known.items() if name in fields}
    return replace(detector, **wanted) if wanted else detector


def work_of(detector: Any, samples: int, rate_hz: float) -> Work | None:
    """Return what an estimate of so many samples costs; None when a user's own detector does not say."""
    found: Work | None = detector.work(samples, rate_hz) if hasattr(detector, "work") else None
    return found


def least_of(detector: Any, rate_hz: float) -> int:
    """Return the shortest window that serves; 1 when a user's own detector does not say."""
    return int(detector.least_samples(rate_hz)) if hasattr(detector, "least_samples") else 1
