"""What a sweep found, as plain data."""

from collections.abc import Sequence
from itertools import product
from typing import Any

import numpy as np

from sim.series.grid import Grid, Rows
from sim.series.measures import Tried, tried
from sim.series.require import required
from sim.series.summary import assumed, entry
from sim.series.sweep_axis import Axis, Number
from sim.series.sweep_judge import stopping
from sim.series.sweep_region import RULE, Judged, answer, judged

KEPT = (
    "in_tune", "specimens_meeting", "whole_instrument", "plucks", "seconds", "overshoot_cents", "final_error_cents",
    "percent_of_breaking", "broken", "runs",
)  # fmt: skip
"""Of what is found of a strategy: what a sweep tells of each setting."""


def summarise(
    grid: Grid, rows: Rows, seed: int, *, axes: Sequence[Axis], usual: bool, confidence: float
) -> dict[str, Any]:
    """Return the summary of a sweep: every setting, and the answer of every strategy for all strings and each.

    ``usual`` says that the requirements are the library's; ``confidence`` is that of the intervals.
    """
    values = list(product(*(axis.values for axis in axes)))
    series = tried(grid, rows)
    each = len(series) // len(values)
    tables = {series[place].name: series[place::each] for place in range(each)}
    judgements = {name: _judgements(values, of_one) for name, of_one in tables.items()}
    return {
        "rig": grid.rigs[0].name.partition(",")[0],
        "seed": seed,
        "specimens": grid.specimens,
        "tunings": grid.tunings,
        "confidence": confidence,
        "axes": [axis.plain() for axis in axes],
        "require": grid.rigs[0].require,
        "require_from": "the library's usual, for the rig has none" if usual else "the rig file",
        "rule": RULE,
        "points": [
            _point(setting, one, judgement, confidence)
            for name, of_one in tables.items()
            for setting, one, judgement in zip(values, of_one, judgements[name], strict=True)
        ],
        "answers": [_answer(name, axes, values, tables[name], judgements[name]) for name in tables],
        "assumed": assumed(grid.rigs[:1]),
    }


def _judgements(values: Sequence[tuple[Number, ...]], series: Sequence[Tried]) -> list[Judged]:
    return [judged(setting, one) for setting, one in zip(values, series, strict=True)]


def _point(values: tuple[Number, ...], one: Tried, judgement: Judged, confidence: float) -> dict[str, Any]:
    found = entry(one, confidence)
    strings = found["by_string"]
    return {
        "values": values,
        "strategy": one.name,
        "verdict": judgement.verdict,
        "stopped_by": stopping(judgement.missed),
        **{name: found[name] for name in KEPT},
        "require": required(one),
        "by_string": {name: {key: strings[name][key] for key in KEPT if key in strings[name]} for name in strings},
    }


def _answer(
    name: str, axes: Sequence[Axis], values: Sequence[tuple[Number, ...]], series: Sequence[Tried], all_: list[Judged]
) -> dict[str, Any]:
    strings = series[0].runs
    alone = {
        string: [
            judged(setting, Tried(one.facts, one.name, {string: one.runs[string]}))
            for setting, one in zip(values, series, strict=True)
        ]
        for string in strings
    }
    return {
        "strategy": name,
        "all": answer(axes, all_),
        "by_string": {string: answer(axes, found) for string, found in alone.items()},
        "pairing": pairing(all_),
    }


def pairing(settings: Sequence[Judged]) -> float | None:
    """Return the width of a paired interval of mean plucks over an unpaired one: middle setting against its neighbour.

    ``sd(a - b) / sqrt(var(a) + var(b))`` over specimens: below 1 where both meet the same draws and answer alike; None
    where nothing varies.
    """
    middle = len(settings) // 2
    one, other = settings[middle - 1].plucks, settings[middle].plucks
    apart = float(np.hypot(one.std(), other.std()))
    return float((one - other).std()) / apart if apart else None
