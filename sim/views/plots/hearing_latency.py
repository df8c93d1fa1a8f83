"""Where the time goes from a pluck to the first valid reading: a waterfall, and the same for every detector."""

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.hearing.study import Cell, Latency, Study
from sim.views.plots.hearing_shades import DOTTED, FALLING, FULL, PLAIN, RISING, key
from sim.views.plots.style import brief, figure, put_key, put_title, tidy

COMPUTING: Final = "computing"
PARTS: Final = {
    "skip after the pluck": DOTTED,
    "window": PLAIN,
    COMPUTING: RISING,
    "link": FULL,
    "hops until readings agree": FALLING,
}
"""In the order in which they pass."""
ROW_INCH: Final = 0.23


def latency(study: Study) -> Figure:
    """Return the figure over milliseconds: the rig's own detector part by part, then all detectors, a bar each."""
    count = len(study.detectors)
    drawn = figure(1.6 + ROW_INCH * (len(PARTS) + 1 + count + 3))
    own, every = drawn.subplots(2, 1, sharex=True, height_ratios=[len(PARTS) + 1, count + 0.5])
    _draw_waterfall(own, slowest(study, study.own).latency)
    own.set_title(brief(study.own), fontsize=8, loc="left")
    _draw_bars(every, study)
    every.set_title("every detector, on its slowest string", fontsize=8, loc="left")
    every.set_xlim(0.0, 1.35e3 * max(slowest(study, name).latency.total_s() for name in study.detectors))
    every.set_xlabel("time after the pluck (ms)", fontsize=9)
    put_title(drawn, title(study))
    put_key(drawn, key(PARTS))
    return drawn


def slowest(study: Study, detector: str) -> Cell:
    """Return the cell of the string on which a detector takes longest; the first of equals."""
    return max((cell for cell in study.cells if cell.detector == detector), key=lambda cell: cell.latency.total_s())


def title(study: Study) -> list[str]:
    """Return how long the rig's own detector takes, and which part takes most of it."""
    found = slowest(study, study.own).latency
    parts = milliseconds(found)
    longest = max(parts, key=lambda name: parts[name])
    share = parts[longest] / sum(parts.values())
    return [
        f"{study.own}: {_total(found)} from the pluck to the first valid reading",
        f"longest part: {longest}, {parts[longest]:.0f} ms ({100.0 * share:.0f} %)",
    ]


def milliseconds(found: Latency) -> dict[str, float]:
    """Return the parts in the order in which they pass; computing that is not known counts as 0."""
    seconds = (found.skip_s, found.window_s, found.computing_s or 0.0, found.link_s, found.agreement_s)
    return {name: 1e3 * value for name, value in zip(PARTS, seconds, strict=True)}


def _total(found: Latency) -> str:
    least = "at least " if found.computing_s is None else ""
    return f"{least}{1e3 * found.total_s():.0f} ms"


def _draw_waterfall(axes: Axes, found: Latency) -> None:
    """Draw a row a part, each beginning where the one above ended, and their sum."""
    begin = 0.0
    for row, (name, width) in enumerate(milliseconds(found).items()):
        _bar(axes, row, begin, width, name)
        begin += width
        unknown = name == COMPUTING and found.computing_s is None
        _write(axes, begin, row, "unknown" if unknown else f"{_brief_ms(width)} ms")
    axes.plot([0.0, begin], [len(PARTS)] * 2, color="black", linewidth=1.6, marker="|", markersize=8)
    _write(axes, begin, len(PARTS), _total(found))
    _name_rows(axes, [*PARTS, "sum"])


def _draw_bars(axes: Axes, study: Study) -> None:
    for row, detector in enumerate(study.detectors):
        cell, begin = slowest(study, detector), 0.0
        for name, width in milliseconds(cell.latency).items():
            _bar(axes, row, begin, width, name)
            begin += width
        verdict = ", does not fit" if cell.fits is False else ""
        _write(axes, begin, row, f"{_total(cell.latency)}{verdict}")
    _name_rows(axes, [brief(detector) for detector in study.detectors])


def _bar(axes: Axes, row: int, begin: float, width: float, name: str) -> None:
    axes.barh(row, width, 0.66, left=begin, **PARTS[name])


def _write(axes: Axes, at: float, row: int, text: str) -> None:
    axes.annotate(text, (at, row), (5, 0), textcoords="offset points", fontsize=8, va="center")


def _brief_ms(width: float) -> str:
    return f"{width:.0f}" if width >= 10.0 or width == 0.0 else f"{width:.2g}"


def _name_rows(axes: Axes, names: list[str]) -> None:
    tidy(axes)
    axes.grid(False, axis="y")
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.5, -0.5)
