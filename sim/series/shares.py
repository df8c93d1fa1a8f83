"""Shares of runs with their intervals over specimens."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.series.statistics import CONFIDENCE, Interval, resampled_ratio, wilson, zero_bound

Flags = NDArray[np.bool_]
"""Shape (specimens, runs of each)."""


def share(flags: Flags, confidence: float = CONFIDENCE) -> dict[str, Any]:
    """Return count, of, share, low and high of flags; see ``share_interval``."""
    count, of = int(np.count_nonzero(flags)), int(flags.size)
    interval = share_interval(flags, confidence)
    return {"count": count, "of": of, "share": count / of, "low": interval.low, "high": interval.high}


def share_interval(flags: Flags, confidence: float = CONFIDENCE) -> Interval:
    """Return the interval of a share, of 95 % unless another confidence is asked for.

    All or none: the exact one-sided bound with as many witnesses as there are specimens. One flag a specimen, or all
    specimens alike: Wilson's interval with specimens as witnesses. Else specimens are resampled.
    """
    specimens, each = flags.shape
    count = int(np.count_nonzero(flags))
    if count == 0:
        return Interval(0.0, zero_bound(specimens, confidence))
    if count == flags.size:
        return Interval(1.0 - zero_bound(specimens, confidence), 1.0)
    per_specimen = flags.mean(axis=1)
    if each == 1 or np.ptp(per_specimen) == 0:
        return wilson(count / each, specimens, confidence)
    return resampled_ratio(per_specimen, np.ones(specimens), confidence)
