"""What became of every window, by string and detector: shares that are told apart by hatching too."""

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.hearing.study import Cell, Study
from sim.views.numbers import percent
from sim.views.plots.hearing_panels import by_string, label, truth
from sim.views.plots.hearing_shades import DOTTED, FALLING, FULL, PLAIN, RISING, key
from sim.views.plots.style import brief, put_key, put_title

NEAR: Final = "within 50 cents"
SHADES: Final = {
    NEAR: PLAIN,
    "an octave up": RISING,
    "an octave down": FALLING,
    "otherwise wrong": FULL,
    "missed": DOTTED,
}
"""Of each outcome, in the order of the fields of a tally."""


class Tally(NamedTuple):
    """Windows by what became of them."""

    near: int
    up: int
    down: int
    other: int
    missed: int

    def shares(self) -> list[float]:
        """Return the outcomes as shares of all windows."""
        return [count / sum(self) for count in self]


def tally(cells: Iterable[Cell]) -> Tally:
    """Return the windows of some cells together."""
    each = [
        (one.readings - one.gross.count - one.missed.count,
         one.octave_up.count, one.octave_down.count, one.other.count, one.missed.count)
        for one in cells
    ]  # fmt: skip
    return Tally(*(sum(counts) for counts in zip(*each, strict=True)))


def outcomes(study: Study) -> Figure:
    """Return the figure: a panel for each detector, a bar for each string, shares in percent."""
    drawn, panels = by_string(study, len(study.detectors))
    for axes, detector in zip(panels, study.detectors, strict=True):
        found = [tally([study.cell(string, detector)]) for string in study.strings]
        _draw_bars(axes, found)
        near = tally(_of(study, detector)).shares()[0]
        axes.set_title(f"{brief(detector)}: {percent(near)} % near", fontsize=8, loc="left")
    panels[0].set_xlim(0.0, 100.0)
    label(panels, f"windows (%), near:\n{NEAR} of the {truth(study)}", "string")
    put_title(drawn, title(study))
    put_key(drawn, key(SHADES))
    return drawn


def title(study: Study) -> list[str]:
    """Return what became of the windows of the rig's own detector, and which other one did worst."""
    ranked = sorted(study.detectors, key=lambda detector: tally(_of(study, detector)).shares()[0])
    sentences = [f"{_sentence(study, study.own)}{_bound(study)}"]
    return sentences if ranked[0] == study.own else [*sentences, f"fewest near: {_sentence(study, ranked[0])}"]


def _sentence(study: Study, detector: str) -> str:
    found = tally(_of(study, detector))
    wrong = zip(found[1:], list(SHADES)[1:], strict=True)
    said = "".join(f", {count} {word}" for count, word in wrong if count)
    return f"{detector}: {found.near} of {sum(found)} windows {NEAR} of the {truth(study)}{said}"


def _bound(study: Study) -> str:
    """Return the largest share of gross errors that is still plausible on a string where none was seen."""
    cells = _of(study, study.own)
    highs = [cell.gross.high for cell in cells if cell.gross.high is not None]
    if any(cell.gross.count for cell in cells) or not highs:
        return ""
    return f"; gross: none (at most {percent(max(highs))} % on any string)"


def _of(study: Study, detector: str) -> list[Cell]:
    return [cell for cell in study.cells if cell.detector == detector]


def _draw_bars(axes: Axes, found: Sequence[Tally]) -> None:
    """Draw a stacked bar a row."""
    rows, left = range(len(found)), [0.0] * len(found)
    for place, (meaning, shade) in enumerate(SHADES.items()):
        widths = [100.0 * one.shares()[place] for one in found]
        axes.barh(rows, widths, 0.72, left=left, label=meaning, **shade)
        left = [start + width for start, width in zip(left, widths, strict=True)]
