"""Faults against guards: letters on shades, and how close each fault comes to breaking."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from sim.series.fault_findings import broken_runs
from sim.views.faults import LETTERS, letter, sentences, singles
from sim.views.plots.style import figure, put_title, save


def draw(found: Mapping[str, Any], out: Path) -> list[Path]:
    """Write ``fault_matrix`` and ``fault_tension`` as SVG and PNG into ``out``; return the paths."""
    return [*save(matrix(found), out, "fault_matrix"), *save(tension(found), out, "fault_tension")]


def matrix(found: Mapping[str, Any]) -> Figure:
    """Return shares of broken runs as shades with a letter in each field."""
    faults, sets = _axes(found)
    broken, runs = broken_runs(found["cells"]), _runs(found)
    values = np.array([[100.0 * broken[fault, name] / runs for name in sets] for fault in faults])
    words = [[letter(found, fault, name) for name in sets] for fault in faults]
    drawn = _field(found, (faults, sets), values, words, "runs in which a string broke, %", 0.0)
    drawn.axes[0].set_xlabel(LETTERS, fontsize=8)
    return drawn


def tension(found: Mapping[str, Any]) -> Figure:
    """Return the highest tension of each fault and set of guards, in percent of breaking."""
    faults, sets = _axes(found)
    high = {(fault, name): 0.0 for fault in faults for name in sets}
    for cell in found["cells"]:
        place = (cell["fault"], cell["guards"])
        if place in high:
            high[place] = max(high[place], cell["percent_of_breaking"] or 0.0)
    values = np.array([[high[fault, name] for name in sets] for fault in faults])
    words = [[f"{value:.0f}" for value in row] for row in values]
    least = 10.0 * (values.min() // 10.0)
    return _field(found, (faults, sets), values, words, "highest tension, % of breaking", least)


def _axes(found: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    named = list(dict.fromkeys(cell["guards"] for cell in found["cells"]))
    sets = ["none", *singles(found), *(name for name in ("hardware", "all") if name in named)]
    return list(dict.fromkeys(cell["fault"] for cell in found["cells"])), sets


def _runs(found: Mapping[str, Any]) -> int:
    first = found["cells"][0]
    same = [c for c in found["cells"] if (c["fault"], c["guards"]) == (first["fault"], first["guards"])]
    return sum(int(cell["runs"]) for cell in same)


def _field(
    found: Mapping[str, Any], axes_of: tuple[list[str], list[str]], values: Any, words: list[list[str]], unit: str,
    least: float,
) -> Figure:  # fmt: skip
    faults, sets = axes_of
    drawn = figure(2.2 + 0.24 * len(faults))
    axes = drawn.subplots()
    image = axes.imshow(values, cmap="Greys", vmin=min(least, 90.0), vmax=100.0, aspect="auto")
    for row, line in enumerate(words):
        for column, word in enumerate(line):
            dark = values[row, column] > 0.45 * least + 55.0
            axes.text(column, row, word, ha="center", va="center", fontsize=7, color="white" if dark else "black")
    names = ["(sound)" if fault == "none" else fault for fault in faults]
    axes.set_yticks(range(len(faults)), names, fontsize=7)
    axes.set_xticks(range(len(sets)), sets, rotation=60, ha="right", fontsize=7)
    bar = drawn.colorbar(image, ax=axes, shrink=0.6)
    bar.set_label(unit, fontsize=8)
    put_title(drawn, sentences(found)[:2])
    return drawn
