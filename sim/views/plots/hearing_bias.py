"""How far a detector reads off on each string, beside what the string, the pluck and the clock let one expect."""

from collections.abc import Sequence
from math import isfinite
from typing import Any, Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from sim.hearing.study import Cell, StringFacts, Study
from sim.views.numbers import signed
from sim.views.plots.hearing_panels import by_string, label, truth
from sim.views.plots.hearing_shades import DOTTED, PLAIN, RISING, key
from sim.views.plots.style import BAND, MUTED, brief, look, put_key, put_title

NEAR: Final = 0.92  # of the half-width: farther marks would be cut
ROOM: Final = 1.4  # of the widest thing that has to fit
CAUSES: Final = {"from inharmonicity": PLAIN, "from glide": RISING, "from the clock": DOTTED}
"""Parts of a prediction."""
SUM: Final[dict[str, Any]] = {"color": "black", "marker": "|", "markersize": 11, "markeredgewidth": 1.6}
OFF_SCALE: Final = "off the scale"
NOTHING: Final = "none within 50"


def bias(study: Study) -> Figure:
    """Return the figure: what is expected and of what it consists, then a panel for each detector; in cents."""
    drawn, panels = by_string(study, 1 + len(study.detectors))
    limit, expected = _limit(study), [predicted(facts) for facts in study.strings.values()]
    _draw_causes(panels[0], list(study.strings.values()), limit)
    panels[0].set_title("expected of a period", fontsize=8, loc="left")
    for number, (axes, detector) in enumerate(zip(panels[1:], study.detectors, strict=True)):
        _draw_found(axes, [study.cell(string, detector) for string in study.strings], number, limit)
        axes.set_title(brief(detector), fontsize=8, loc="left")
    for axes in panels:
        axes.axvspan(-study.tolerance_cents, study.tolerance_cents, color=BAND, zorder=0)
        axes.plot(expected, range(len(expected)), linestyle="none", gid="sum", **SUM)
    panels[0].set_xlim(-limit, limit)
    label(panels, f"error re the {truth(study)} (cents)", "string")
    put_title(drawn, title(study))
    put_key(drawn, _key(study, panels))
    return drawn


def predicted(facts: StringFacts) -> float:
    """Return how far a detector of the period is expected to read off."""
    return facts.inharmonic_cents + facts.glide_cents + facts.clock_cents


def title(study: Study) -> list[str]:
    """Return the largest bias of the rig's own detector, and how far it lies from what was expected."""
    cells = {string: study.cell(string, study.own) for string in study.strings}
    known = {string: cell.bias_cents for string, cell in cells.items() if isfinite(cell.bias_cents)}
    if not known:
        return [f"{study.own}: {NOTHING} cents of the {truth(study)} on any string"]
    expected = {string: predicted(study.strings[string]) for string in known}
    largest = max(known, key=lambda string: abs(known[string]))
    farthest = max(known, key=lambda string: abs(known[string] - expected[string]))
    off = abs(known[farthest] - expected[farthest])
    return [
        f"{study.own} re the {truth(study)}: largest bias {signed(known[largest])} cents, on {largest}, "
        f"where {signed(expected[largest])} are expected of a detector of the period",
        f"bias and expectation differ by at most {off:.1f} cents ({farthest})",
    ]


def _limit(study: Study) -> float:
    """Return the half-width of the panels: what is expected and the rig's own detector fit, others need not."""
    own = [study.cell(string, study.own) for string in study.strings]
    steps = [np.cumsum(_parts(facts)) for facts in study.strings.values()]
    widest = [study.tolerance_cents, *(float(np.abs(each).max()) for each in steps)]
    widest += [abs(cell.bias_cents) + (cell.std_cents if isfinite(cell.std_cents) else 0.0) for cell in own]
    return ROOM * max(width for width in widest if isfinite(width))


def _parts(facts: StringFacts) -> tuple[float, float, float]:
    return facts.inharmonic_cents, facts.glide_cents, facts.clock_cents


def _draw_causes(axes: Axes, strings: Sequence[StringFacts], limit: float) -> None:
    """Draw a small waterfall a string, each part beginning where the one above it ended; write the sum beside it."""
    for row, facts in enumerate(strings):
        begin = 0.0
        for place, (width, shade) in enumerate(zip(_parts(facts), CAUSES.values(), strict=True)):
            axes.barh(row + 0.26 * (place - 1), width, 0.26, left=begin, **shade)
            begin += width
        axes.text(0.97 * limit, row, signed(begin), fontsize=7, ha="right", va="center")


def _draw_found(axes: Axes, cells: Sequence[Cell], number: int, limit: float) -> None:
    """Mark bias and spread of one detector; off the scale as an arrow with its number, without a bias in words."""
    for row, cell in enumerate(cells):
        if not isfinite(cell.bias_cents):
            axes.text(-0.96 * limit, row, NOTHING, fontsize=7, color=MUTED, va="center")
        elif abs(cell.bias_cents) > NEAR * limit:
            _draw_far(axes, row, cell.bias_cents, limit, look(number).colour)
        else:
            _draw_near(axes, row, cell, number)


def _draw_near(axes: Axes, row: int, cell: Cell, number: int) -> None:
    style = look(number)
    spread = cell.std_cents if isfinite(cell.std_cents) else 0.0
    axes.errorbar(
        cell.bias_cents, row, xerr=spread, fmt=style.marker, color=style.colour, markersize=4.5, linewidth=1.1
    )


def _draw_far(axes: Axes, row: int, cents: float, limit: float, colour: str) -> None:
    side = 1.0 if cents > 0.0 else -1.0
    axes.plot(0.94 * side * limit, row, ">" if side > 0 else "<", color=colour, markersize=5, gid=OFF_SCALE)
    axes.text(0.84 * side * limit, row, signed(cents, 0), fontsize=7, va="center", ha="right" if side > 0 else "left")


def _key(study: Study, panels: Sequence[Axes]) -> list[Artist]:
    """Return the key: what is there, and no more."""
    far = Line2D([], [], color=MUTED, marker=">", linestyle="none", label=f"{OFF_SCALE}, with its cents")
    return [
        *key({f"expected {cause}": shade for cause, shade in CAUSES.items()}),
        Line2D([], [], linestyle="none", label="sum: a detector of the period", **SUM),
        Line2D([], [], color=MUTED, marker="o", markersize=4.5, label="found: median, standard deviation"),
        Patch(color=BAND, label=f"tolerance ±{study.tolerance_cents:g} cents"),
        *([far] if any(line.get_gid() == OFF_SCALE for axes in panels for line in axes.lines) else []),
    ]
