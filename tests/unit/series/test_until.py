"""Adding specimens until an interval is narrow keeps its coverage: simulated, and against a rule that does not."""

import numpy as np
import pytest

from sim.series.shares import share_interval
from sim.series.statistics import CONFIDENCE, Interval, wilson
from sim.series.until import AT_EACH, LOOKS, looks, until

SERIES = 1000
WIDTH = 0.05


def test_looks_double_and_share_the_risk() -> None:
    assert looks(10) == [10, 20, 40, 80, 160, 320]
    assert pytest.approx((1.0 - CONFIDENCE) / LOOKS) == 1.0 - AT_EACH


def test_it_stops_at_the_first_narrow_interval_and_says_when_none_is() -> None:
    seen: list[int] = []

    def look(specimens: int, before: int | None) -> int:
        seen.append(specimens)
        assert before == (seen[-2] if len(seen) > 1 else None)
        return specimens

    assert until(0.05, 10, look, lambda found: 1.0 / found) == (20, True)
    assert seen == [10, 20]
    assert until(0.001, 10, lambda specimens, _: specimens, lambda found: 1.0 / found) == (320, False)


def stopped(flags: np.ndarray, first: int, confidence: float, width: float) -> Interval:
    """The interval at which a series with these flags (specimens, runs) stops."""

    def look(specimens: int, _: Interval | None) -> Interval:
        return share_interval(flags[:specimens], confidence)

    return until(width, first, look, lambda found: found.high - found.low)[0]


def coverage(share: float, spread: float, each: int, confidence: float, first: int, series: int) -> float:
    """Share of series whose interval holds the truth; specimens differ by a beta distribution, or not at all."""
    chance, hits = np.random.Generator(np.random.Philox(5)), 0
    for _ in range(series):
        own = chance.beta(share / spread, (1 - share) / spread, looks(first)[-1]) if spread else share
        flags = chance.random((looks(first)[-1], each)) < np.reshape(own, (-1, 1))
        found = stopped(flags, first, confidence, WIDTH)
        hits += found.low <= share <= found.high
    return hits / series


@pytest.mark.parametrize("share", [0.6, 0.9, 0.98])
def test_coverage_is_kept_with_one_run_a_specimen(share) -> None:
    assert coverage(share, 0.0, 1, AT_EACH, 10, SERIES) >= CONFIDENCE - 0.015


def test_the_same_looks_without_correction_cover_less() -> None:
    """Only a little, for width alone says little about the share; the correction is on the safe side, 98 to 99 %."""
    plain, kept = (coverage(0.95, 0.0, 1, level, 10, SERIES) for level in (CONFIDENCE, AT_EACH))
    assert plain < CONFIDENCE - 0.01
    assert kept > CONFIDENCE


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.6, 0.9])
def test_coverage_is_kept_with_several_runs_a_specimen(share) -> None:
    """Bootstrap over specimens, first look 40: with fewer the bootstrap itself covers less than it says."""
    assert coverage(share, 0.3, 6, AT_EACH, 40, 300) >= CONFIDENCE - 0.015


def test_wilson_widens_with_confidence() -> None:
    """Two-sided normal quantiles 1.96 and 2.576 (any table): at a half, width is ``z / sqrt(n + z^2)``."""
    for confidence, z in ((0.95, 1.959964), (0.99, 2.575829)):
        found = wilson(50, 100, confidence)
        assert found.high - found.low == pytest.approx(z / np.sqrt(100 + z * z), rel=1e-6)
