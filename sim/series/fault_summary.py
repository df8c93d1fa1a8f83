"""The summary of a fault series: its cells, and what they say."""

from collections.abc import Iterator, Sequence
from typing import Any

from sim.series.fault_cells import Guarding, Variant, cell, guardings
from sim.series.fault_findings import findings
from sim.series.grid import Grid, Rows


def summarised(
    name: str, grid: Grid, rows: Rows, seed: Any, variants: Sequence[Variant], stoppers: Sequence[str]
) -> dict[str, Any]:
    """Return the summary of the series; its keys are those of the JSON that ``pegloop faults`` prints."""
    fitted = max((variant.hardware for variant in variants), key=len)
    sets = guardings(stoppers, fitted)
    cells = list(_cells(grid, rows, variants, sets))
    head = {"rig": name, "seed": seed, "specimens": grid.specimens, "cells": cells}
    return head | findings(cells, sets)


def _cells(grid: Grid, rows: Rows, variants: Sequence[Variant], sets: Sequence[Guarding]) -> Iterator[dict[str, Any]]:
    place = {variant: number for number, variant in enumerate(variants)}
    for fault in dict.fromkeys(variant.fault for variant in variants):
        for guarding in sets:
            rig = place[Variant(fault, guarding.hardware)]
            for strategy in grid.rigs[rig].chosen_strategies:
                for string, runs in grid.runs(rows, rig, strategy).items():
                    yield cell(fault, guarding, runs.reshape(-1)) | {"string": string, "strategy": strategy}
