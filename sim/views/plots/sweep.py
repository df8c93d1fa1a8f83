"""What a sweep found: curves over one key, a map over two."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from sim.series.sweep_words import brief_key, headline
from sim.views.plots.style import BAND, MUTED, figure, look, put_key, put_title, save, tidy
from sim.views.sweep import KEY, mark, points_of

Summary = Mapping[str, Any]
CHANCE: Final = "Intervals cover chance in this simulation, not errors of the model."
CROWDED: Final = 12  # values of a key beyond which a map has no numbers in its cells


def draw(summary: Summary, out: Path) -> list[Path]:
    """Write ``sweep`` (one key), or ``map_STRATEGY`` (two keys), as SVG and PNG into ``out``; return the paths."""
    if len(summary["axes"]) == 1:
        return save(curves(summary), out, "sweep")
    return [path for one in summary["answers"] for path in save(chart(summary, one), out, f"map_{one['strategy']}")]


def curves(summary: Summary) -> Figure:
    """Return share in tune with its intervals above, plucks (median to 95th percentile) below."""
    drawn = figure(5.2)
    tuned, plucks = drawn.subplots(2, 1, sharex=True)
    (axis,) = summary["axes"]
    for place, one in enumerate(summary["answers"]):
        points = points_of(summary, one["strategy"])
        _draw_shares(tuned, points, place)
        _draw_plucks(plucks, points, place)
        _draw_region(tuned, plucks, one["all"], place)
    if axis["log"]:
        plucks.set_xscale("log")
        plucks.set_xticks(axis["values"], [f"{value:g}" for value in axis["values"]], minor=False)
        plucks.minorticks_off()
    _label(tuned, plucks, axis, summary["require"])
    put_title(drawn, [headline(one, summary["axes"]) for one in summary["answers"]])
    put_key(drawn, _key(summary))
    return drawn


def _draw_shares(axes: Axes, points: Sequence[Summary], place: int) -> None:
    shown, shares = look(place), [point["in_tune"] for point in points]
    middle = [100 * share["share"] for share in shares]
    ends = [[100 * abs(share["share"] - share[end]) for share in shares] for end in ("low", "high")]
    axes.errorbar(
        _values(points), middle, yerr=ends, color=shown.colour, linestyle=shown.line, marker=shown.marker,
        markersize=4.5, capsize=2.5, linewidth=1.2,
    )  # fmt: skip


def _draw_plucks(axes: Axes, points: Sequence[Summary], place: int) -> None:
    shown = look(place)
    for name, width in (("median", 1.6), ("p95", 0.9)):
        spent = [np.nan if point["plucks"][name] is None else point["plucks"][name] for point in points]
        axes.plot(
            _values(points), spent, color=shown.colour, linestyle=shown.line, marker=shown.marker, linewidth=width,
            markersize=4.5, markerfacecolor=shown.colour if name == "median" else "white", gid=name,
        )  # fmt: skip
        beyond = [point for point in points if point["plucks"][name] is None]
        above = axes.get_xaxis_transform()
        axes.plot(_values(beyond), [0.97] * len(beyond), "^", color=shown.colour, transform=above, gid="beyond",
                  markerfacecolor=shown.colour if name == "median" else "white")  # fmt: skip


def _values(points: Sequence[Summary]) -> list[float]:
    return [point["values"][0] for point in points]


def _draw_region(tuned: Axes, plucks: Axes, answer: Summary, place: int) -> None:
    if answer["recommended"] is None:
        return
    (off,), (value,) = answer["off"], answer["recommended"]
    for axes in (tuned, plucks):
        axes.axvspan(off["low"], off["high"], color=BAND, alpha=0.5, linewidth=0, zorder=0, gid="region")
        axes.axvline(value, color=look(place).colour, linewidth=1.0, linestyle=":", gid="recommended")


def _label(tuned: Axes, plucks: Axes, axis: Summary, wanted: Summary) -> None:
    tuned.set_ylabel("tunings in tune (%)", fontsize=9)
    tuned.set_ylim(top=100.6)
    tuned.set_yticks([tick for tick in tuned.get_yticks() if tuned.get_ylim()[0] <= tick <= 100.0])
    plucks.set_ylabel("plucks", fontsize=9)
    plucks.set_ylim(bottom=0.0)
    plucks.axhline(wanted["plucks"], color=MUTED, linewidth=0.9, linestyle=(0, (4, 3)))
    unit = f" ({axis['unit']})" if axis["unit"] else ""
    plucks.set_xlabel(f"{axis['key']}{unit}\n{CHANCE}", fontsize=9)
    for axes in (tuned, plucks):
        tidy(axes)


def _key(summary: Summary) -> list[Any]:
    strategies = [
        Line2D([], [], color=look(place).colour, linestyle=look(place).line, marker=look(place).marker,
               label=one["strategy"])
        for place, one in enumerate(summary["answers"])
    ]  # fmt: skip
    return [
        *strategies,
        Line2D([], [], color=MUTED, marker="o", linestyle="", label="filled: median"),
        Line2D([], [], color=MUTED, marker="o", markerfacecolor="white", linestyle="", label="hollow: 95th percentile"),
        Line2D([], [], color=MUTED, marker="^", linestyle="", label="beyond the limit of a run"),
        Line2D([], [], color=MUTED, linestyle=(0, (4, 3)), label="most plucks allowed"),
        *(_of_answers() if any(one["all"]["recommended"] is not None for one in summary["answers"]) else ()),
    ]


def _of_answers() -> list[Any]:
    return [
        Patch(color=BAND, label="meets what is required"), Line2D([], [], color=MUTED, linestyle=":", label="take this")
    ]  # fmt: skip


def chart(summary: Summary, one: Summary) -> Figure:
    """Return the map of one strategy: share in tune as shades and numbers, a sign for what is required."""
    down, across = summary["axes"]
    points = points_of(summary, one["strategy"])
    shares = np.array([100 * point["in_tune"]["share"] for point in points])
    grid = shares.reshape(len(down["values"]), len(across["values"]))
    drawn = figure(1.8 + 0.32 * max(6, len(down["values"])))
    axes = drawn.subplots()
    low = min(99.0, float(shares.min()))
    axes.imshow(grid, cmap="Greys", vmin=low, vmax=200.0 - low, aspect="auto", origin="lower").set_gid("shares")
    _name_cells(axes, down, across)
    _write_cells(axes, points, grid.shape)
    _frame(axes, one["all"]["recommended"], down, across)
    put_title(drawn, [headline(one, summary["axes"]), f"Cells: % in tune. {KEY}"])
    return drawn


def _name_cells(axes: Axes, down: Summary, across: Summary) -> None:
    for axis, told, ticks in ((across, axes.set_xlabel, axes.set_xticks), (down, axes.set_ylabel, axes.set_yticks)):
        unit = f" ({axis['unit']})" if axis["unit"] else ""
        told(f"{axis['key'] if axis is across else brief_key(axis['key'])}{unit}", fontsize=9)
        ticks(range(len(axis["values"])), [f"{value:g}" for value in axis["values"]], fontsize=8)


def _write_cells(axes: Axes, points: Sequence[Summary], shape: tuple[int, ...]) -> None:
    crowded = max(shape) > CROWDED
    for number, point in enumerate(points):
        row, column = divmod(number, shape[1])
        share = 100 * point["in_tune"]["share"]
        text = mark(point) if crowded else f"{share:.0f} {mark(point)}"
        axes.text(column, row, text, ha="center", va="center", fontsize=7)


def _frame(axes: Axes, values: Sequence[float] | None, down: Summary, across: Summary) -> None:
    """Put a frame around the setting to take."""
    if values is not None:
        row, column = list(down["values"]).index(values[0]), list(across["values"]).index(values[1])
        corner = (column - 0.5, row - 0.5)
        axes.add_patch(Rectangle(corner, 1, 1, fill=False, edgecolor="white", linewidth=4.5))
        axes.add_patch(Rectangle(corner, 1, 1, fill=False, edgecolor="black", linewidth=2, gid="recommended"))
