"""Whether a strategy meets what the rig's ``[require]`` asks, as far as the specimens can tell."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.series.measures import Tried, effort, known
from sim.series.shares import share_interval
from sim.series.statistics import CONFIDENCE, Interval, clean_runs_for, quantile, resampled_quantile, z_of

MEETS, FAILS, NOT_RESOLVED = "meets", "fails", "not resolved"
TUNED_SHARE = 0.9  # where a rig requires nothing; estimate
LEVEL = 0.95  # of the quantile of plucks and seconds that is required

Found = tuple[float, Interval, str, int | None]
"""What was found, its interval, the verdict, and specimens needed for one."""


def meeting(one: Tried) -> NDArray[np.bool_]:
    """Tell of each specimen whether it meets the requirement.

    A specimen meets when at least ``tuned_share`` of its runs end in tune and none of its strings broke.
    """
    wanted = (one.facts.require or {}).get("tuned_share", TUNED_SHARE)
    runs = one.all_runs()
    enough: NDArray[np.bool_] = runs["in_tune"].mean(axis=1) >= wanted - 1e-12
    return enough & ~runs["broken"].any(axis=1)


def required(one: Tried) -> list[dict[str, Any]]:
    """Return the verdict on each requirement of the rig; empty without ``[require]``.

    *meets* or *fails* when the whole 95 % interval lies on one side of what is wanted, else *not resolved*, with the
    specimens that would tell if they went on like these. Null in place of a number means no limit.
    """
    wanted = one.facts.require
    if wanted is None:
        return []
    checks: dict[str, tuple[str, Callable[[], Found]]] = {
        "specimens meeting": ("specimens_share", lambda: _share(one, wanted["specimens_share"])),
        "plucks p95": ("plucks", lambda: _p95(one, "plucks", wanted["plucks"])),
        "seconds p95": ("seconds", lambda: _p95(one, "seconds", wanted["seconds"])),
        "percent of breaking max": ("percent_of_breaking", lambda: _highest(one, wanted)),
    }
    return [_verdict(one, name, wanted[key], check()) for name, (key, check) in checks.items()]


def _verdict(one: Tried, requirement: str, wanted: float, answer: Found) -> dict[str, Any]:
    found, interval, verdict, needed = answer
    return {
        "rig": one.facts.name, "strategy": one.name, "requirement": requirement, "wanted": wanted,
        "found": _number(found), "low": _number(interval.low), "high": _number(interval.high),
        "verdict": verdict, "specimens_needed": needed if verdict == NOT_RESOLVED else None,
    }  # fmt: skip


def _number(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _share(one: Tried, wanted: float) -> Found:
    flags = meeting(one)
    found, interval = float(flags.mean()), share_interval(flags[:, None])
    low, high = interval.low or 0.0, 1.0 if interval.high is None else interval.high
    verdict = MEETS if low >= wanted else FAILS if high < wanted else NOT_RESOLVED
    return found, interval, verdict, specimens_for_share(found, wanted)


def specimens_for_share(found: float, wanted: float) -> int | None:
    """Return how many specimens with a share ``found`` tell it from ``wanted``; None when no number does.

    All or none: the exact bound. Else where Wilson's interval reaches ``wanted``: ``n = z^2 w (1 - w) / (f - w)^2``.
    """
    if found == wanted:
        return None
    if found in (0.0, 1.0):
        return clean_runs_for(abs(found - wanted))
    return math.ceil(z_of(CONFIDENCE) ** 2 * wanted * (1 - wanted) / (found - wanted) ** 2)


def _p95(one: Tried, measure: str, wanted: float) -> Found:
    values = effort(one.all_runs(), measure)
    found, interval = quantile(values, LEVEL), resampled_quantile(values, LEVEL)
    low, high = interval.low or 0.0, math.inf if interval.high is None else interval.high
    verdict = MEETS if high <= wanted else FAILS if low > wanted else NOT_RESOLVED
    return found, interval, verdict, _specimens_for_quantile(len(values), found, low, high, wanted)


def _specimens_for_quantile(specimens: int, found: float, low: float, high: float, wanted: float) -> int | None:
    """Return specimens that would tell: the interval narrows with their square root; never fewer than its upper end
    needs (59)."""
    if found == wanted or math.isinf(found):
        return None
    half = max(end for end in (found - low, high - found) if math.isfinite(end))
    return max(clean_runs_for(1 - LEVEL), math.ceil(specimens * (half / (found - wanted)) ** 2))


def _highest(one: Tried, wanted: dict[str, float]) -> Found:
    """Judge the highest tension: one run above fails; none above must hold for ``specimens_share`` of machines."""
    tension, share = known(one.all_runs(), "percent_of_breaking"), wanted["specimens_share"]
    if not tension.size:
        return math.nan, Interval(None, None, "no run has a tension"), NOT_RESOLVED, None
    found, needed = float(tension.max()), clean_runs_for(1 - share) if share < 1 else None
    interval = Interval(found, None, "the highest of all machines has no upper bound")
    if found > wanted["percent_of_breaking"]:
        return found, interval, FAILS, None
    enough = needed is not None and len(one.all_runs()) >= needed
    return found, interval, MEETS if enough else NOT_RESOLVED, needed
