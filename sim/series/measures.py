"""Numbers of one strategy on the same specimens, as arrays, with what a run that ended badly counts for."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.series.grid import Grid, RigFacts, Rows

Floats = NDArray[np.float64]

BETTER = {"in_tune": 1, "plucks": -1, "seconds": -1, "overshoot_cents": -1, "percent_of_breaking": -1}
"""Measures in which strategies are compared; 1 where more is better, -1 where less is."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Rows of several strings side by side, shape (specimens, strings x tunings).

    A column is put together when asked for, so that no row is ever held twice.
    """

    parts: tuple[Rows, ...]

    def __getitem__(self, measure: str) -> NDArray[Any]:
        return np.concatenate([part[measure] for part in self.parts], axis=1)

    def __len__(self) -> int:
        return len(self.parts[0])

    @property
    def size(self) -> int:
        """How many runs."""
        return sum(part.size for part in self.parts)


@dataclass(frozen=True, slots=True)
class Tried:
    """One strategy of one rig with all its runs."""

    facts: RigFacts
    name: str
    runs: Mapping[str, Rows]
    """By string name, each of shape (specimens, tunings)."""

    def all_runs(self) -> Beside:
        """Return all runs, string beside string."""
        return Beside(tuple(self.runs.values()))


def tried(grid: Grid, rows: Rows) -> list[Tried]:
    """Return every strategy of every rig, in the order of the series."""
    return [
        Tried(rig, name, grid.runs(rows, place, name))
        for place, rig in enumerate(grid.rigs)
        for name in rig.chosen_strategies
    ]


def effort(rows: Rows | Beside, measure: str) -> Floats:
    """Return plucks or seconds of runs; a run that broke or did not finish lies beyond every limit (infinity)."""
    spent: Floats = np.where(rows["finished"], rows[measure].astype(np.float64), math.inf)
    return spent


def final_error_cents(rows: Rows | Beside) -> Floats:
    """Return the absolute error in the end; infinity where no pitch is left."""
    error: Floats = np.abs(rows["final_error_cents"])
    return np.where(np.isnan(error), math.inf, error)


def known(rows: Rows | Beside, measure: str) -> Floats:
    """Return a measure of the runs that have one, as a flat array."""
    values: Floats = rows[measure].astype(np.float64).ravel()
    return values[~np.isnan(values)]


def compared(rows: Rows | Beside, measure: str) -> Floats:
    """Return a measure for pairing, one number a run: infinity for effort without success, nan where unknown."""
    if measure in ("plucks", "seconds"):
        return effort(rows, measure)
    values: Floats = rows[measure].astype(np.float64)
    return values


def limit(facts: RigFacts, measure: str) -> float:
    """Return the limit of plucks or seconds of a rig's task."""
    return float(facts.pluck_limit) if measure == "plucks" else facts.time_limit_s
