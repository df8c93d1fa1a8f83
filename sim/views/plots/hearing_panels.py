"""What the pictures of hearing share: what a pitch means, and panels side by side with a row for each string."""

from collections.abc import Iterable, Sequence
from math import ceil, isfinite
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.hearing.study import Study
from sim.views.plots.style import brief, figure, tidy

COLUMNS: Final = 3
ROW_INCH: Final = 0.17  # height of a string in a panel
AROUND_INCH: Final = 0.5  # of a panel: its name and ticks
TITLE_INCH: Final = 1.7  # of a figure: title, key and label
TRUTHS: Final = {"first-partial": "first partial", "effective": "effective pitch"}


def truth(study: Study) -> str:
    """Return in words which pitch errors are measured against."""
    return TRUTHS[study.truth]


def spoken(values: Iterable[float], places: int = 1) -> str:
    """Return the range of what is finite among some values, such as ``1.2 to 3.4``; one number where they agree."""
    known = sorted({f"{value:.{places}f}" for value in values if isfinite(value)}, key=float)
    return " to ".join(dict.fromkeys((known[0], known[-1]))) if known else "an unknown number of"


def grid(count: int, inch: float) -> tuple[Figure, list[Axes]]:
    """Return a figure with so many panels of a height, at most three beside each other, on the same axes."""
    columns = _columns(count)
    rows = ceil(count / columns)
    drawn = figure(TITLE_INCH + rows * inch)
    panels = list(drawn.subplots(rows, columns, sharex=True, sharey=True, squeeze=False).flat)
    for empty in panels[count:]:
        empty.remove()
    return drawn, panels[:count]


def label(panels: Sequence[Axes], across: str, up: str) -> None:
    """Write a label under the last row of a grid, ticks under every column, and a label along the left edge."""
    columns = _columns(len(panels))
    for lowest in panels[-columns:]:
        lowest.tick_params(labelbottom=True)
    for last in panels[(len(panels) - 1) // columns * columns :]:
        last.set_xlabel(across, fontsize=8)
    for leftmost in panels[::columns]:
        leftmost.set_ylabel(up, fontsize=8)


def by_string(study: Study, count: int) -> tuple[Figure, list[Axes]]:
    """Return a figure with panels in which each string has a row, the first at the top."""
    drawn, panels = grid(count, AROUND_INCH + ROW_INCH * max(3, len(study.strings)))
    for axes in panels:
        tidy(axes)
    panels[0].set_yticks(range(len(study.strings)), [brief(string) for string in study.strings])
    panels[0].set_ylim(len(study.strings) - 0.5, -0.5)
    return drawn, panels


def _columns(count: int) -> int:
    return min(COLUMNS, count)
