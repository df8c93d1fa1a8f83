"""The smallest pitch step of every string against the tolerance, on a logarithmic axis."""

import math
from collections.abc import Sequence
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from sim.design.facts import Facts
from sim.views.numbers import number
from sim.views.plots.style import BAND, MUTED, figure, look, put_key, put_title, tidy

ROW_INCH: Final = 0.28
DECADES: Final = 100.0  # how far the axis reaches below the tolerance at least


def pitch_steps(facts: Sequence[Facts], tolerance_cents: float) -> Figure:
    """Return the figure: a mark for each string, shaped by what sets its step; arrows point beyond the axis."""
    drawn = figure(1.7 + ROW_INCH * len(facts))
    axes = drawn.subplots()
    low, high = _ends(facts, tolerance_cents)
    axes.axvspan(low, tolerance_cents, color=BAND, label=f"within the tolerance of {number(tolerance_cents)} cents")
    axes.axvline(2.0 * tolerance_cents, color=MUTED, linewidth=1.0, linestyle="--",
                 label="width of the band: twice the tolerance")  # fmt: skip
    for place, cause in enumerate(dict.fromkeys(each.step_set_by for each in facts)):
        _draw(axes, facts, cause, place, (low, high))
    axes.set_xscale("log")
    axes.xaxis.set_major_formatter(FuncFormatter(lambda cents, _: f"{cents:g}"))
    axes.set_xlim(low, high)
    axes.set_yticks(range(len(facts)), [each.string for each in facts])
    axes.invert_yaxis()
    axes.set_xlabel("smallest change of pitch that is sure to come (cents)", fontsize=9)
    tidy(axes)
    put_title(drawn, [pitch_steps_title(facts, tolerance_cents)])
    put_key(drawn, axes.get_legend_handles_labels()[0])
    return drawn


def pitch_steps_title(facts: Sequence[Facts], tolerance_cents: float) -> str:
    """Return which string has the coarsest step, what sets it, and how it stands to the tolerance."""
    worst = max(facts, key=_step)
    if worst.step_cents == 0.0:
        return "Nothing limits the pitch steps of any string"
    wide = worst.step_cents / tolerance_cents
    stands = f"{number(wide, 2)} times the tolerance" if math.isfinite(wide) else "no step is sure to come"
    return f"Coarsest step: {worst.string}, {number(worst.step_cents, 2)} cents, {stands}; set by {worst.step_set_by}"


def _step(facts: Facts) -> float:
    return facts.step_cents


def _ends(facts: Sequence[Facts], tolerance_cents: float) -> tuple[float, float]:
    """Return the ends of the axis, around every known step and the tolerance."""
    known = [each.step_cents for each in facts if 0.0 < each.step_cents < math.inf]
    return min([tolerance_cents / DECADES, *(step / 2.0 for step in known)]), 2.0 * max(
        2.0 * tolerance_cents, *known, 0.0
    )


def _draw(axes: Axes, facts: Sequence[Facts], cause: str, number_of: int, ends: tuple[float, float]) -> None:
    style = look(number_of)
    rows = [(each.step_cents, row) for row, each in enumerate(facts) if each.step_set_by == cause]
    inside = [(step, row) for step, row in rows if 0.0 < step < math.inf]
    axes.plot([step for step, _ in inside], [row for _, row in inside], linestyle="none", marker=style.marker,
              color=style.colour, markersize=7, label=f"set by {cause}")  # fmt: skip
    for step, row in rows:
        if step == 0.0 or math.isinf(step):
            edge, mark = (ends[0], "<") if step == 0.0 else (ends[1], ">")
            axes.plot(edge, row, mark, color=style.colour, markersize=8, clip_on=False)
