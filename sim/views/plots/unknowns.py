"""What decides: total and first indices of the unknowns as bars with their intervals."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from sim.series.unknowns_words import MEASURES, headlines
from sim.views.plots.style import MUTED, figure, put_key, put_title, save, tidy

MOST: Final = 8  # keys a measure


def draw(found: Mapping[str, Any], out: Path) -> list[Path]:
    """Write ``unknowns_STRATEGY`` as SVG and PNG into ``out``; return the paths."""
    return [path for one in found["strategies"] for path in save(bars(one), out, f"unknowns_{one['strategy']}")]


def bars(one: Mapping[str, Any]) -> Figure:
    """Return the bars of one strategy, a panel for each measure that varies."""
    shown = {measure: listed[:MOST] for measure, listed in one["measures"].items() if listed}
    drawn = figure(1.3 + sum(0.5 + 0.22 * len(listed) for listed in shown.values()))
    heights = [len(listed) + 2 for listed in shown.values()]
    panels = drawn.subplots(len(shown), 1, sharex=True, squeeze=False, gridspec_kw={"height_ratios": heights})[:, 0]
    for axes, (measure, listed) in zip(panels, shown.items(), strict=True):
        _draw(axes, listed)
        axes.set_title(MEASURES[measure], fontsize=9, loc="left")
    panels[-1].set_xlabel("share of the variance (%), with 95 % interval", fontsize=9)
    put_title(drawn, headlines(one))
    put_key(drawn, _key())
    return drawn


def _draw(axes: Axes, listed: Sequence[Mapping[str, Any]]) -> None:
    places = list(range(len(listed)))
    totals = [one["total"] for one in listed]
    middle = [100 * total["index"] for total in totals]
    ends = [[100 * abs(total["index"] - total[end]) for total in totals] for end in ("low", "high")]
    axes.barh(places, middle, xerr=ends, color="#d9d9d9", edgecolor=MUTED, ecolor="black", capsize=2.5, height=0.7)
    axes.plot([100 * one["first"]["index"] for one in listed], places, "D", color="black", markersize=4, gid="first")
    axes.set_yticks(places, [one["key"] for one in listed])
    axes.invert_yaxis()
    axes.set_xlim(left=min(0.0, *(100 * one["first"]["index"] - 2 for one in listed)))
    tidy(axes)


def _key() -> list[Any]:
    return [
        Patch(facecolor="#d9d9d9", edgecolor=MUTED, label="in all, together with others"),
        Line2D([], [], color="black", marker="D", linestyle="", markersize=4, label="alone"),
    ]
