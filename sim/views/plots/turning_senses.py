"""The headstock from the front, each peg with an arrow: which way the side of its knob that faces you moves to tighten.

Strings are taken to go up one row of pegs and down the other, as on most headstocks (common practice); an instrument
with all pegs in one row has the same senses and other places.
"""

import math
from collections.abc import Mapping
from typing import Final, NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch, Polygon

from sim.views.plots.style import MUTED, figure, put_title

ROW_INCH: Final = 0.62
WOOD: Final = "#f2f2f2"
KNOB: Final = "#cfcfcf"
SIDE: Final = 1.0  # from the middle line to a post
KNOB_OUT: Final = 2.05  # and to the middle of its knob
HALF_KNOB: Final = (0.32, 0.3)
ARROW: Final = 0.24  # half its length


class Peg(NamedTuple):
    """Where a string's peg stands."""

    string: str
    side: int
    """-1 left, 1 right, seen from the front."""
    row: int
    """0 next to the nut."""


def pegs(strings: tuple[str, ...]) -> list[Peg]:
    """Return the pegs of strings in order: up the left row, down the right one."""
    half = math.ceil(len(strings) / 2)
    left = [Peg(string, -1, row) for row, string in enumerate(strings[:half])]
    right = strings[half:]
    return left + [Peg(string, 1, len(right) - 1 - place) for place, string in enumerate(right)]


def moves_up(tightens: str, side: int) -> bool:
    """Return whether the side of a knob that faces you moves away from the nut when it tightens.

    Seen from its end, a knob at the left shows its front at the right, where a clockwise turn goes down towards the
    nut; at the right it is the other way round.
    """
    return (tightens == "clockwise") == (side > 0)


def turning_senses(tightens: Mapping[str, str]) -> Figure:
    """Return the picture for the sense of each string, lowest string first."""
    placed = pegs(tuple(tightens))
    rows = max(peg.row for peg in placed) + 1
    drawn = figure(2.1 + ROW_INCH * rows)
    axes = drawn.subplots()
    _draw_wood(axes, rows)
    for peg in placed:
        _draw_peg(axes, peg, tightens[peg.string], len(placed))
    axes.set_xlim(-5.4, 5.4)
    axes.set_ylim(-1.5, rows + 0.3)
    axes.set_aspect("equal")
    axes.axis("off")
    put_title(drawn, turning_senses_title(tightens))
    return drawn


def turning_senses_title(tightens: Mapping[str, str]) -> list[str]:
    """Return how many senses are known, and how to read the arrows."""
    unknown = [string for string, sense in tightens.items() if sense == "unknown"]
    senses = {sense for sense in tightens.values() if sense != "unknown"}
    if unknown:
        found = f"Which way tightens is not known of {', '.join(unknown)}: try by hand first"
    elif len(senses) == 1:
        knobs = "All knobs tighten" if len(tightens) > 1 else f"The knob of {next(iter(tightens))} tightens"
        found = f"{knobs} {senses.pop()}, seen from the knob's end"
    else:
        found = "The knobs do not all tighten the same way: tell the machine before it goes to another peg"
    return [found, "Seen from the front, strings in two rows; arrow: the side of the knob that faces you, to tighten"]


def _draw_wood(axes: Axes, rows: int) -> None:
    outline = ((-0.75, -0.9), (-1.35, -0.3), (-1.5, rows), (1.5, rows), (1.35, -0.3), (0.75, -0.9))
    axes.add_patch(Polygon(outline, closed=True, facecolor=WOOD, edgecolor=MUTED, linewidth=1.2))
    axes.plot((-0.75, 0.75), (-0.9, -0.9), color="black", linewidth=3.0, solid_capstyle="butt")
    axes.text(0.0, -1.05, "nut", ha="center", va="top", fontsize=8, color=MUTED)


def _draw_peg(axes: Axes, peg: Peg, tightens: str, strings: int) -> None:
    height, knob = peg.row + 0.35, peg.side * KNOB_OUT
    post = peg.side * SIDE
    order = peg.row if peg.side < 0 else strings - 1 - peg.row
    axes.plot((post, 1.3 * (order / max(1, strings - 1) - 0.5)), (height, -0.9), color=MUTED, linewidth=0.8)
    axes.plot(post, height, "o", color="white", markeredgecolor="black", markersize=7)
    axes.plot((post + 0.12 * peg.side, knob), (height, height), color="black", linewidth=1.6, zorder=0)
    wide, high = HALF_KNOB
    axes.add_patch(FancyBboxPatch((knob - wide, height - high), 2 * wide, 2 * high, boxstyle="round,pad=0.02",
                                  facecolor=KNOB, edgecolor="black", linewidth=1.0))  # fmt: skip
    _draw_sense(axes, knob, height, tightens, peg.side)
    axes.text(peg.side * 2.6, height, f"{peg.string}  {tightens}" if peg.side > 0 else f"{tightens}  {peg.string}",
              ha="left" if peg.side > 0 else "right", va="center", fontsize=9)  # fmt: skip


def _draw_sense(axes: Axes, knob: float, height: float, tightens: str, side: int) -> None:
    if tightens == "unknown":
        axes.text(knob, height, "?", ha="center", va="center", fontsize=13, fontweight="bold")
        return
    way = ARROW if moves_up(tightens, side) else -ARROW
    axes.annotate("", (knob, height + way), (knob, height - way), arrowprops={"arrowstyle": "-|>", "linewidth": 1.8,
                  "color": "black", "mutation_scale": 13, "shrinkA": 0, "shrinkB": 0})  # fmt: skip
