"""Numbers of one strategy on the same specimens, as arrays, with what a run that ended badly counts for."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.series.grid import Grid, RigFacts, Rows

Floats = NDArray[np.float64]

BETTER = {"in_tune": 1, "plucks": -1, "seconds": -1, "overshoot_cents": -1, "percent_of_breaking": -1}
"""Measures in which strategies are compared; 1 where more is better, -1 where less is."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One strategy of one rig with all its runs."""

    facts: RigFacts
    name: str
    runs: Mapping[str, Rows]
    """By string name, each of shape (specimens, tunings)."""

    def all_runs(self) -> Rows:
        """Return all runs, shape (specimens, strings x tunings)."""
        return np.concatenate(list(self.runs.values()), axis=1)


def tried(grid: Grid, rows: Rows) -> list[Tried]:
    """Return every strategy of every rig, in the order of the series."""
    return [
        Tried(rig, name, grid.runs(rows, place, name))
        for place, rig in enumerate(grid.rigs)
        for name in rig.chosen_strategies
    ]


def effort(rows: Rows, measure: str) -> Floats:
    """Return plucks or seconds of runs; a run that broke or did not finish lies beyond every limit (infinity)."""
    spent: Floats = np.where(rows["finished"], rows[measure].astype(np.float64), math.inf)
    return spent


def final_error_cents(rows: Rows) -> Floats:
    """Return the absolute error in the end; infinity where no pitch is left."""
    error: Floats = np.abs(rows["final_error_cents"])
    return np.where(np.isnan(error), math.inf, error)


def known(rows: Rows, measure: str) -> Floats:
    """Return a measure of the runs that have one, as a flat array."""
    values: Floats = rows[measure].astype(np.float64).ravel()
    return values[~np.isnan(values)]


def compared(rows: Rows, measure: str) -> Floats:
    """Return a measure for pairing, one number a run: infinity for effort without success, nan where unknown."""
    if measure in ("plucks", "seconds"):
        return effort(rows, measure)
    values: Floats = rows[measure].astype(np.float64)
    return values


def limit(facts: RigFacts, measure: str) -> float:
    """Return the limit of plucks or seconds of a rig's task."""
    return float(facts.pluck_limit) if measure == "plucks" else facts.time_limit_s
