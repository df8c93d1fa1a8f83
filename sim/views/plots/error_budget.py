"""Error budgets as bars: what each share adds to the total of each string, against the tolerance."""

from collections.abc import Sequence
from typing import Final

from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from sim.design.error_budget import Budget
from sim.views.numbers import number
from sim.views.plots.style import LOOKS, figure, put_key, put_title, tidy

ROW_INCH: Final = 0.34
LEAST_SHOWN: Final = 0.005  # share of the longest bar below which a part is not seen and not named
HATCHES: Final = ("", "///", "...", "xxx", "\\\\\\", "+++", "ooo", "---", "|||", "**")
PALE: Final = (0.75, 0.35, 0.55, 0.9, 0.2, 0.65, 0.45, 0.8, 0.3, 0.6)
"""How far each colour is mixed with white, so that greys differ as well as hatches."""


def error_budget_bars(budgets: Sequence[Budget]) -> Figure:
    """Return the figure: a bar for each string, split among its shares; the parts add up to the total."""
    drawn = figure(2.2 + ROW_INCH * len(budgets))
    axes = drawn.subplots()
    parts = [budget.contributions_cents() for budget in budgets]
    left, longest = [0.0] * len(budgets), max(budget.total_cents() for budget in budgets)
    for place, share in enumerate(share.name for share in budgets[0].shares):
        widths = [part.get(share, 0.0) for part in parts]
        if max(widths) > LEAST_SHOWN * longest:
            _draw(axes, widths, left, share, place)
            left = [start + width for start, width in zip(left, widths, strict=True)]
    tolerance = budgets[0].tolerance_cents
    axes.axvline(tolerance, color="black", linewidth=1.4, label=f"tolerance, {number(tolerance)} cents")
    axes.set_xlim(0.0, 1.06 * max(longest, tolerance))
    axes.set_yticks(range(len(budgets)), [budget.string for budget in budgets])
    axes.invert_yaxis()
    axes.set_xlabel("error that 95 of 100 tunings stay within (cents),\nsplit among its shares", fontsize=9)
    tidy(axes)
    put_title(drawn, error_budget_title(budgets))
    put_key(drawn, axes.get_legend_handles_labels()[0])
    return drawn


def error_budget_title(budgets: Sequence[Budget]) -> list[str]:
    """Return the largest total against the tolerance, and what helps it most."""
    worst = max(budgets, key=_total)
    change = worst.helps_most()
    keeps = sum(budget.keeps_tolerance() for budget in budgets)
    return [
        f"{worst.strategy}: {keeps} of {len(budgets)} strings keep {number(worst.tolerance_cents)} cents in 95 of 100 "
        f"tunings; largest {worst.string}, {number(worst.total_cents())} cents",
        f"helps it most: no {change.share}, {number(change.total_cents, 2)} cents",
    ]


def _total(budget: Budget) -> float:
    return budget.total_cents()


def _draw(axes: Axes, widths: Sequence[float], left: Sequence[float], share: str, place: int) -> None:
    colour = LOOKS[place % len(LOOKS)].colour
    axes.barh(
        range(len(widths)), widths, left=left, height=0.66, label=share, facecolor=_paler(colour, PALE[place]),
        edgecolor="black", linewidth=0.7, hatch=HATCHES[place],
    )  # fmt: skip


def _paler(colour: str, white: float) -> tuple[float, float, float]:
    """Return a colour mixed with a share of white."""
    red, green, blue = to_rgb(colour)
    ink = 1.0 - white
    return white + ink * red, white + ink * green, white + ink * blue
