"""What a comparison found: share in tune, plucks and tension, by string and strategy."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final, Protocol

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from sim.views.plots.style import figure, look, put_key, put_title, save, tidy

Found = dict[str, Any]
"""Measures of one strategy, of all strings or of one."""

ROOM: Final = 0.8  # of the height of a string that its strategies share
ROW_INCH: Final = 0.17  # height of one strategy on one string
MOST_SENTENCES: Final = 4
CHANCE: Final = "Intervals cover chance in this simulation, not errors of the model."


class Summarised(Protocol):
    """What is drawn: anything with the summary of a comparison."""

    @property
    def summary(self) -> dict[str, Any]:
        """What was found, as in ``summary.json``."""
        ...


def draw(comparison: Summarised, out: Path) -> list[Path]:
    """Write ``in_tune`` and ``effort`` as SVG and PNG into ``out``; return the paths."""
    return save(in_tune(comparison.summary), out, "in_tune") + save(effort(comparison.summary), out, "effort")


def in_tune(summary: dict[str, Any]) -> Figure:
    """Return the figure of the share in tune, in percent with its interval, by string and strategy."""
    drawn = figure(_height_inch(summary))
    axes = drawn.subplots()
    for number, _ in enumerate(summary["strategies"]):
        _draw_shares(axes, summary, number)
    _name_strings(axes, summary)
    axes.set_xlim(-2.0, 102.0)
    axes.set_xlabel(f"tunings in tune (%), with 95 % interval\n{CHANCE}", fontsize=9)
    put_title(drawn, in_tune_title(summary))
    put_key(drawn, _key(summary))
    return drawn


def effort(summary: dict[str, Any]) -> Figure:
    """Return the figure of plucks (median to 95th percentile) and percent of breaking (median to highest)."""
    drawn = figure(_height_inch(summary))
    plucks, tension = drawn.subplots(1, 2, sharey=True)
    edge = _edge_plucks(summary)
    for number, _ in enumerate(summary["strategies"]):
        _draw_spans(plucks, summary, number, ("plucks", "p95"), edge)
        _draw_spans(tension, summary, number, ("percent_of_breaking", "max"), 100.0)
    _name_strings(plucks, summary)
    plucks.set_xlim(0.0, 1.05 * edge)
    plucks.set_xlabel("plucks, median to 95th percentile\n(arrow: beyond the limit)", fontsize=9)
    tension.axvline(100.0, color="black", linewidth=0.8)
    tension.set_xlim(0.0, 105.0)
    tension.set_xlabel("highest tension of a run (% of breaking),\nmedian to highest", fontsize=9)
    tidy(tension)
    put_title(drawn, effort_title(summary))
    put_key(drawn, _key(summary))
    return drawn


def in_tune_title(summary: dict[str, Any]) -> list[str]:
    """Return a sentence a strategy: tunings in tune, and of several strings the one with the fewest unless all are."""
    return _sentences(summary, _in_tune_sentence)


def effort_title(summary: dict[str, Any]) -> list[str]:
    """Return a sentence a strategy: plucks, and the highest tension with its string."""
    return _sentences(summary, _effort_sentence)


def _in_tune_sentence(name: str, entry: Found) -> str:
    share = entry["in_tune"]
    said = f"{name}: {share['count']} of {share['of']} tunings in tune"
    if share["count"] == share["of"] or len(entry["by_string"]) == 1:
        return said
    string, worst = min(entry["by_string"].items(), key=lambda item: float(item[1]["in_tune"]["share"]))
    return f"{said}; fewest on {string}, {worst['in_tune']['count']} of {worst['in_tune']['of']}"


def _effort_sentence(name: str, entry: Found) -> str:
    plucks = entry["plucks"]
    known = {
        string: float(found["percent_of_breaking"]["max"])
        for string, found in entry["by_string"].items()
        if found["percent_of_breaking"]["max"] is not None
    }
    said = f"{name}: plucks {_plucks(plucks['median'])} in the median, {_plucks(plucks['p95'])} at the 95th percentile"
    if not known:
        return said
    string = max(known, key=lambda one: known[one])
    return f"{said}; up to {known[string]:.0f} % of breaking ({string})"


def _plucks(number: float | None) -> str:
    return "beyond the limit" if number is None else f"{number:g}"


def _sentences(summary: dict[str, Any], sentence: Callable[[str, Found], str]) -> list[str]:
    """Return one sentence a strategy; of many, those in tune most and least often, and how many there are."""
    named = list(zip(_names(summary), summary["strategies"], strict=True))
    if len(named) <= MOST_SENTENCES:
        return [sentence(name, entry) for name, entry in named]
    ranked = sorted(named, key=lambda pair: float(pair[1]["in_tune"]["share"]), reverse=True)
    best, worst = sentence(*ranked[0]), sentence(*ranked[-1])
    return [f"{len(named)} strategies; in tune most often:", best, "least often:", worst]


def _names(summary: dict[str, Any]) -> list[str]:
    """Return names of strategies, with their rig when there are several."""
    several = len(summary["rigs"]) > 1
    return [f"{entry['rig']}: {entry['name']}" if several else str(entry["name"]) for entry in summary["strategies"]]


def _strings(summary: dict[str, Any]) -> list[str]:
    """Return every string of every strategy once, in order."""
    return list(dict.fromkeys(string for entry in summary["strategies"] for string in entry["by_string"]))


def _rows(summary: dict[str, Any], number: int) -> list[tuple[float, Found]]:
    """Return the height of each string of one strategy, and what was found there."""
    strategies = summary["strategies"]
    shift = ROOM * ((number + 0.5) / len(strategies) - 0.5)
    found = strategies[number]["by_string"]
    return [(place + shift, found[string]) for place, string in enumerate(_strings(summary)) if string in found]


def _height_inch(summary: dict[str, Any]) -> float:
    rows = len(_strings(summary)) * max(2, len(summary["strategies"]))
    return 2.2 + ROW_INCH * rows + 0.2 * len(_sentences(summary, _effort_sentence))


def _draw_shares(axes: Axes, summary: dict[str, Any], number: int) -> None:
    """Draw shares as marks with their intervals."""
    style, rows = look(number), _rows(summary, number)
    shares = [found["in_tune"] for _, found in rows]
    middle = [100.0 * share["share"] for share in shares]
    below = [max(0.0, 100.0 * (share["share"] - share["low"])) for share in shares]
    above = [max(0.0, 100.0 * (share["high"] - share["share"])) for share in shares]
    bars = axes.errorbar(
        middle, [at for at, _ in rows], xerr=[below, above], fmt=style.marker, color=style.colour, markersize=5,
        capsize=2.5, linewidth=1.3, label=_names(summary)[number],
    )  # fmt: skip
    bars.lines[2][0].set_linestyle(style.line)


def _draw_spans(axes: Axes, summary: dict[str, Any], number: int, span: tuple[str, str], edge: float) -> None:
    """Draw a mark at the median and a line to the upper end; what has no number lies at the edge, as an arrow."""
    measure, upper = span
    style = look(number)
    for at, found in _rows(summary, number):
        ends = [found[measure]["median"], found[measure][upper]]
        drawn = [edge if end is None else end for end in ends]
        axes.plot(drawn, [at, at], color=style.colour, linestyle=style.line, linewidth=1.3, gid="span")
        axes.plot(
            drawn[0], at, ">" if ends[0] is None else style.marker, color=style.colour, markersize=5, gid="median"
        )
        axes.plot(drawn[1], at, ">" if ends[1] is None else "|", color=style.colour, markersize=6, gid="upper")


def _edge_plucks(summary: dict[str, Any]) -> float:
    """Return the right edge of the plucks: just above the largest number there is."""
    spans = [found["plucks"] for entry in summary["strategies"] for found in entry["by_string"].values()]
    known = [float(span[end]) for span in spans for end in ("median", "p95") if span[end] is not None]
    return 1.1 * max(known, default=10.0)


def _name_strings(axes: Axes, summary: dict[str, Any]) -> None:
    """Name the strings beside their rows, the first at the top, with a line between neighbours."""
    strings = _strings(summary)
    axes.set_yticks(range(len(strings)), strings)
    axes.set_ylim(len(strings) - 0.5, -0.5)
    axes.set_ylabel("string", fontsize=9)
    tidy(axes)


def _key(summary: dict[str, Any]) -> Sequence[Line2D]:
    looks = [(name, look(number)) for number, name in enumerate(_names(summary))]
    return [
        Line2D([], [], color=style.colour, linestyle=style.line, marker=style.marker, markersize=5, label=name)
        for name, style in looks
    ]
