"""The findings in words: for whom a strategy is the better choice, and where it fails."""

from collections.abc import Sequence

import numpy as np

from sim.series.differences import adjusted, difference, resolved
from sim.series.measures import BETTER, Tried, compared, limit
from sim.series.shares import share

WISHES = {
    "plucks": "the fewest plucks",
    "in_tune": "the highest share in tune",
    "overshoot_cents": "the least overshoot",
}
"""Measure, and what somebody wants who chooses by it."""


def sentences(strategies: Sequence[Tried]) -> list[str]:
    """Return one sentence for each strategy that leads, for each wish that is open, and for each worst string."""
    specimens = len(strategies[0].all_runs())
    leaders = {measure: leader(strategies, measure) for measure in WISHES}
    several = len({one.facts.name for one in strategies}) > 1
    found = []
    for one in strategies:
        wishes = [WISHES[measure] for measure, first in leaders.items() if first is one]
        if wishes and len(strategies) > 1:
            found.append(f"{_label(one, several)} is the better choice for whoever wants {' and '.join(wishes)}.")
    open_wishes = [WISHES[measure] for measure, first in leaders.items() if first is None]
    found += [f"Which strategy gives {wish} is not resolved with {specimens} specimens." for wish in open_wishes]
    return found + [_worst_string(one, _label(one, several)) for one in strategies]


def leader(strategies: Sequence[Tried], measure: str) -> Tried | None:
    """Return the strategy that is best in a measure, None unless its lead on every other one is resolved."""
    best = max(strategies, key=lambda one: BETTER[measure] * _mean(one, measure))
    others = [other for other in strategies if other is not best]
    pairs = [pair for other in others if (pair := difference(best, other, measure)) is not None]
    sure = len(pairs) == len(others) and all(map(resolved, adjusted(pairs)))
    return best if sure and all(BETTER[measure] * pair["mean"] > 0 for pair in pairs) else None


def _mean(one: Tried, measure: str) -> float:
    """Return the mean of a measure; a run that did not finish counts as the limit, nothing known as the worst."""
    values = compared(one.all_runs(), measure)
    values = np.where(np.isinf(values), limit(one.facts, measure), values)
    values = values[~np.isnan(values)]
    return float(values.mean()) if values.size else -BETTER[measure] * float("inf")


def _label(one: Tried, several_rigs: bool) -> str:
    return f"{one.facts.name}/{one.name}" if several_rigs else one.name


def _worst_string(one: Tried, label: str) -> str:
    shares = {name: share(runs["in_tune"]) for name, runs in one.runs.items()}
    name, worst = min(shares.items(), key=lambda item: item[1]["share"])
    if worst["count"] == worst["of"]:
        return f"{label} brought every string to pitch in all {one.all_runs().size} tunings."
    size = f"at most {percent(worst['high'])}" if worst["count"] == 0 else percent(worst["share"])
    return f"{label} fails most on string {name}: in tune in {worst['count']} of {worst['of']} tunings ({size})."


def percent(value: float) -> str:
    """Return a share in percent, with three digits at most."""
    return f"{100 * value:.3g} %"
