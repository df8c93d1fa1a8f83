"""How the spread of readings grows with noise, beside the least that any detector could have."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, NullFormatter

from sim.hearing.study import Floats, NoiseRow, Study
from sim.views.plots.hearing_panels import grid, label, spoken, truth
from sim.views.plots.style import LOOKS, MUTED, brief, put_key, put_title, tidy

HANN: Final = 1.53  # a Hann window's spread over the bound: independent arithmetic from the window's moments
SELDOM: Final = 0.05  # share of gross or missing readings above which the spread of the others says little
PANEL_INCH: Final = 1.8
SPREAD: Final[dict[str, Any]] = {"color": LOOKS[1].colour, "marker": "s", "markersize": 4.5, "linewidth": 1.4}
DOUBTFUL: Final[dict[str, Any]] = SPREAD | {"linestyle": "none", "markerfacecolor": "white"}
BOUND: Final[dict[str, Any]] = {"color": "black", "linewidth": 1.3}
HANN_LINE: Final[dict[str, Any]] = {"color": LOOKS[0].colour, "linewidth": 1.3, "linestyle": (0, (5, 2))}
FLOOR: Final[dict[str, Any]] = {"color": LOOKS[2].colour, "linewidth": 1.6, "linestyle": (0, (1, 1))}
OWN: Final[dict[str, Any]] = {"color": MUTED, "linewidth": 0.9, "linestyle": (0, (5, 2, 1, 2))}


def noise(study: Study, rows: Sequence[NoiseRow]) -> Figure:
    """Return the figure: a panel for each string, cents over decibels of string over noise; both are logarithms."""
    drawn, panels = grid(len(rows), PANEL_INCH)
    panels[0].set_yscale("log")
    panels[0].yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    panels[0].yaxis.set_minor_formatter(NullFormatter())
    for axes, row in zip(panels, rows, strict=True):
        _draw_row(axes, row, study.strings[row.string].snr_db)
    panels[0].set_xlim(max(row.snr_db.max() for row in rows) + 2.0, min(row.snr_db.min() for row in rows) - 2.0)
    label(panels, "string over noise (dB)", f"spread re the\n{truth(study)} (cents)")
    put_title(drawn, title(study, rows))
    put_key(drawn, _key())
    return drawn


def title(study: Study, rows: Sequence[NoiseRow]) -> list[str]:
    """Return how far from the bound the detector is at the rig's own noise, and what remains without noise."""
    times = [times_bound(row, study.strings[row.string].snr_db) for row in rows]
    return [
        f"{study.own}: at the rig's own level noise spreads readings by {spoken(times)} times the Cramér-Rao bound "
        f"(a Hann window alone costs {HANN})",
        f"without noise {spoken((row.floor_cents for row in rows), 2)} cents remain: "
        "glide, beats, clock and the detector's own",
    ]


def times_bound(row: NoiseRow, snr_db: float) -> float:
    """Return the spread over the bound at a ratio of string over noise, between the levels that were measured."""
    return float(np.interp(-snr_db, -row.snr_db, row.std_cents / row.bound_cents))


def _draw_row(axes: Axes, row: NoiseRow, own_db: float) -> None:
    doubtful = row.gross_share > SELDOM
    axes.axvline(own_db, gid="own", **OWN)
    if row.floor_cents > 0.0:
        axes.axhline(row.floor_cents, gid="floor", **FLOOR)
    axes.plot(row.snr_db, row.bound_cents, gid="bound", **BOUND)
    axes.plot(row.snr_db, HANN * row.bound_cents, gid="hann", **HANN_LINE)
    axes.plot(row.snr_db, _positive(row.std_cents), gid="spread", **SPREAD)
    axes.plot(row.snr_db[doubtful], _positive(row.std_cents)[doubtful], gid="doubtful", **DOUBTFUL)
    axes.set_title(f"{brief(row.string)}: {own_db:.0f} dB in this rig", fontsize=8, loc="left")
    tidy(axes)


def _positive(values: Floats) -> Floats:
    """Return values with nan for what a logarithm cannot show."""
    return np.where(values > 0.0, values, np.nan)


def _key() -> list[Line2D]:
    return [
        Line2D([], [], label="standard deviation that noise adds", **SPREAD),
        Line2D([], [], label=f"with over {100 * SELDOM:g} % gross or missed", **DOUBTFUL),
        Line2D([], [], label="Cramér-Rao bound", **BOUND),
        Line2D([], [], label=f"{HANN} times the bound (Hann)", **HANN_LINE),
        Line2D([], [], label="standard deviation without noise", **FLOOR),
        Line2D([], [], label="the rig's own noise", **OWN),
    ]
