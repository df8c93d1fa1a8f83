"""Which of the unknowns that a rig leaves open matters most, by shares of the variance.

``first`` is the share of the variance that goes when a key becomes known; ``total`` also counts what it does together
with others. Each tuning's own chance is a factor like the keys: what no measurement takes away.

Source: Saltelli et al. 2010 (first), Jansen 1999 (total), as ``scipy.stats.sobol_indices`` has them.
"""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from scenarios.schema import Range, Scenario
from sim.series.compare import Progress, compare
from sim.series.comparison import Comparison
from sim.series.grid import Grid, Rows
from sim.series.plugins import Plugin
from sim.series.statistics import CONFIDENCE
from sim.series.sweep_keys import parts
from sim.series.unknowns_streams import Crossed, factor_of

Floats = NDArray[np.float64]

CHANCE: Final = "chance of each tuning"
ELSE: Final = "chance, and all else"
RESAMPLES: Final = 500
MOST_ERROR_CENTS: Final = 100.0  # what a larger error, or no pitch at all, counts as: a semitone
LEAST: Final = 0.01
"""Share of the variance that counts as nothing (estimate); a total index cannot lie below 0."""
UNREAD: Final = ("body", "session")
"""Sections that only a session reads."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is run, and where it is kept."""

    strategies: tuple[str, ...]
    rows: int
    """Rows of the design, a power of 2; each has two machines and one for each factor."""
    tunings: int = 1
    seed: int = 1
    jobs: int | None = None
    executor: Executor | None = None
    out: Path | None = None
    resume: bool = False
    plugins: tuple[Plugin, ...] = ()


def open_keys(scenario: Scenario) -> tuple[str, ...]:
    """Return the keys that a rig leaves open, those of all strings as one."""
    found = dict[str, None]()
    for _, part in parts(scenario):
        for key, value in part.values.items():
            if isinstance(value, Range) and value.low < value.high:
                found[factor_of(f"{part.path}.{key}")] = None
    return tuple(key for key in found if scenario.whole or key.partition(".")[0] not in UNREAD)


def unknowns(scenario: Scenario, keys: Sequence[str], asked: Asked, progress: Progress | None = None) -> Comparison:
    """Run the crossed machines; the summary has the indices of every key by strategy and measure.

    ``keys`` are some or all of ``open_keys``. Raises what ``compare`` raises.
    """
    crossed = Crossed(asked.seed, tuple(keys))
    everything = set(open_keys(scenario)) <= set(keys)
    return compare(
        [scenario], strategies=asked.strategies, specimens=asked.rows * crossed.columns, tunings=asked.tunings,
        seed=crossed, jobs=asked.jobs, executor=asked.executor, out=asked.out, resume=asked.resume,
        plugins=asked.plugins, progress=progress,
        summarise=partial(_summary, factors=(*keys, CHANCE if everything else ELSE)),
    )  # fmt: skip


def _summary(grid: Grid, rows: Rows, seed: int, *, factors: Sequence[str]) -> dict[str, Any]:
    (rig,), columns = grid.rigs, len(factors) + 2
    return {
        "rig": rig.name,
        "seed": seed,
        "rows": grid.specimens // columns,
        "machines": grid.specimens,
        "tunings": grid.tunings,
        "confidence": CONFIDENCE,
        "strategies": [
            {"strategy": name, "measures": _measures(_crossed(grid, rows, name, columns), factors)}
            for name in rig.chosen_strategies
        ],
    }


def _crossed(grid: Grid, rows: Rows, strategy: str, columns: int) -> Rows:
    """Return a strategy's rows, of shape (rows of the design, columns, strings x tunings)."""
    runs = np.concatenate(list(grid.runs(rows, 0, strategy).values()), axis=1)
    return runs.reshape(-1, columns, runs.shape[1])


def _measures(rows: Rows, factors: Sequence[str]) -> dict[str, Any]:
    error = np.minimum(np.nan_to_num(np.abs(rows["final_error_cents"]), nan=MOST_ERROR_CENTS), MOST_ERROR_CENTS)
    measures = {
        "final_error_cents": error,
        "plucks": rows["plucks"],
        "percent_of_breaking": rows["percent_of_breaking"],
    }
    return {
        name: indices(np.asarray(values, dtype=np.float64).mean(axis=2).T, factors) for name, values in measures.items()
    }


def indices(columns: Floats, factors: Sequence[str]) -> list[dict[str, Any]]:
    """Return first and total index of each factor with bootstrap intervals, the largest total first.

    ``columns`` are the values of a measure: A, B, then A with each factor of B; shape (factors + 2, rows), rows a power
    of 2. ``leads`` is the share of resamplings in which the factor has the largest total. Empty where nothing varies.
    """
    if np.ptp(columns[:2]) == 0.0:
        return []
    found = _sobol(columns)
    again = np.array(
        [_sobol(columns[:, chosen]) for chosen in _resampled(columns.shape[1]) if np.ptp(columns[:2, chosen])]
    )
    low, high = np.quantile(again, ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2), axis=0)
    leads = np.bincount(again[:, 1].argmax(axis=1), minlength=len(factors)) / len(again)
    listed = [
        {
            "key": key, "leads": float(leads[place]),
            **{
                name: {"index": float(found[which, place]), "low": float(low[which, place]),
                       "high": float(high[which, place])}
                for which, name in enumerate(("first", "total"))
            },
        }
        for place, key in enumerate(factors)
    ]  # fmt: skip
    return sorted(listed, key=lambda one: -one["total"]["index"])


def _sobol(columns: Floats) -> Floats:
    """Return first and total indices, shape (2, factors)."""
    from scipy.stats import sobol_indices

    values: Any = {"f_A": columns[:1], "f_B": columns[1:2], "f_AB": columns[2:, None, :]}
    found = sobol_indices(func=values, n=columns.shape[1])
    return np.array([np.atleast_1d(found.first_order).ravel(), np.atleast_1d(found.total_order).ravel()])


def _resampled(rows: int) -> NDArray[np.int64]:
    chance = np.random.Generator(np.random.Philox(rows))
    return chance.integers(0, rows, (RESAMPLES, rows))


def resolved(one: dict[str, Any]) -> bool:
    """Tell whether a key matters for sure: the interval of its total index lies above what counts as nothing."""
    return bool(one["total"]["low"] > LEAST)
