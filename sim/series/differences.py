"""Strategies against each other, pair by pair on the same specimen, tuning and string."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from sim.series.measures import BETTER, Floats, Tried, compared, limit
from sim.series.statistics import flip_test, holm, resampled_ratio

SAME = 1e-9  # differences below are equal
LEVEL = 0.05


def differences(strategies: Sequence[Tried]) -> list[dict[str, Any]]:
    """Return every measure of every strategy against the first; p-values of one measure are adjusted after Holm."""
    found = []
    for measure in BETTER:
        pairs = (difference(other, strategies[0], measure) for other in strategies[1:])
        found += adjusted([pair for pair in pairs if pair is not None])
    return found


def adjusted(pairs: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return differences with ``p_holm`` beside ``p``."""
    return [pair | {"p_holm": p} for pair, p in zip(pairs, holm([pair["p"] for pair in pairs]), strict=True)]


def difference(one: Tried, against: Tried, measure: str) -> dict[str, Any] | None:
    """Return how ``one`` differs from ``against`` on the strings that both have; None when there is none to pair.

    ``mean`` is *one minus against*, with its interval over specimens; a run that did not finish counts as the limit of
    plucks or seconds there, and as worse than any that did in ``better``, ``equal``, ``worse``, which count triples of
    specimen, tuning and string. ``p`` flips the signs of whole specimens. Pairs without a number on either side are
    left out. ``note`` says why there is no interval.
    """
    strings = [name for name in one.runs if name in against.runs]
    if not strings:
        return None
    first, second = (_values(tried, strings, measure) for tried in (one, against))
    gain = _gain(first, second) * BETTER[measure]
    paired = _counted(first, one, measure) - _counted(second, against, measure)
    sums, counts = np.nansum(paired, axis=1), np.count_nonzero(~np.isnan(paired), axis=1)
    if not counts.all():
        return None
    interval = resampled_ratio(sums, counts)
    return {
        "measure": measure, "rig": one.facts.name, "strategy": one.name,
        "against_rig": against.facts.name, "against": against.name,
        "mean": float(sums.sum() / counts.sum()), "low": interval.low, "high": interval.high,
        "better": int(np.count_nonzero(gain > 0)), "equal": int(np.count_nonzero(gain == 0)),
        "worse": int(np.count_nonzero(gain < 0)),
        "p": flip_test(sums / counts),
        **({"note": interval.reason} if interval.reason else {}),
    }  # fmt: skip


def resolved(pair: dict[str, Any]) -> bool:
    """Tell whether a difference is no accident: ``p_holm`` below 0.05, and 0 outside the interval if there is one."""
    apart = pair["low"] is None or pair["low"] * pair["high"] > 0
    return bool(apart and pair["p_holm"] < LEVEL)


def _values(tried: Tried, strings: Sequence[str], measure: str) -> Floats:
    return np.concatenate([compared(tried.runs[name], measure) for name in strings], axis=1)


def _gain(first: Floats, second: Floats) -> Floats:
    """Return first minus second; 0 where both are beyond every limit or nearly the same."""
    with np.errstate(invalid="ignore"):
        gain = first - second
    gain[np.isinf(first) & np.isinf(second)] = 0.0
    gain[np.abs(gain) < SAME] = 0.0
    return gain


def _counted(values: Floats, tried: Tried, measure: str) -> Floats:
    return np.where(np.isinf(values), limit(tried.facts, measure), values)
