"""The spectrum of one window with every partial named, and those marked that came back from above half the rate."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from sim.hearing.study import SpectrumView
from sim.views.plots.style import BAND, LOOKS, figure, put_key, put_title, tidy

FLOOR_DB: Final = -80.0
TOP_DB: Final = 22.0  # room for names
APART: Final = 0.02  # of the width: nearer names overlap unless one stands above the other
NAME_DB: Final = 8.0  # height of a number with its distance from the mark
FOLDED_DB: Final = 24.0  # height of an upright name
HALO: Final = withStroke(linewidth=2.5, foreground="white")  # so that names can be read over lines
PLAIN: Final[dict[str, Any]] = {
    "color": LOOKS[0].colour, "marker": "o", "markersize": 5, "linestyle": "none", "markerfacecolor": "white",
}  # fmt: skip
FOLDED: Final[dict[str, Any]] = {"color": LOOKS[1].colour, "marker": "v", "markersize": 7, "linestyle": "none"}


def spectrum(view: SpectrumView) -> Figure:
    """Return the figure: decibels re the strongest line over hertz up to half the sample rate."""
    drawn = figure(4.8)
    axes = drawn.subplots()
    if view.search_hz:
        axes.axvspan(*view.search_hz, color=BAND, zorder=0, gid="search")
    axes.plot(view.hz, np.maximum(view.level_db, FLOOR_DB), color="black", linewidth=0.9, gid="spectrum")
    _mark(axes, view, ~folded(view), PLAIN, "partial")
    _mark(axes, view, folded(view), FOLDED, "folded")
    _name(axes, view)
    axes.set_xlim(0.0, view.rate_hz / 2.0)
    axes.set_ylim(FLOOR_DB, TOP_DB)
    axes.set_xlabel(f"frequency (Hz), up to half of {view.rate_hz:g} samples a second", fontsize=9)
    axes.set_ylabel("level re the strongest line (dB)", fontsize=9)
    tidy(axes)
    put_title(drawn, title(view))
    put_key(drawn, _key(view))
    return drawn


def folded(view: SpectrumView) -> NDArray[np.bool_]:
    """Return which partials lie above half the rate, shape (partials,)."""
    found: NDArray[np.bool_] = view.true_hz > view.rate_hz / 2.0
    return found


def title(view: SpectrumView) -> list[str]:
    """Return how many partials fold back, the strongest of them, and which land where the detector searches."""
    these, half_hz = np.flatnonzero(folded(view)), view.rate_hz / 2.0
    if not these.size:
        return [f"{view.string}: its {view.partials.size} strongest partials lie below {half_hz:g} Hz, none folds back"]
    strongest = these[np.argmax(view.partial_db[these])]
    return [
        f"{view.string}: {these.size} of its {view.partials.size} strongest partials lie above {half_hz:g} Hz "
        "and fold back",
        f"the strongest of them, {view.partials[strongest]}, belongs at {view.true_hz[strongest]:.0f} Hz "
        f"and is seen at {view.seen_hz[strongest]:.0f} Hz, "
        f"{abs(view.partial_db[strongest]):.0f} dB below the top one",
        *_searched(view, these),
    ]


def _searched(view: SpectrumView, these: NDArray[np.intp]) -> list[str]:
    """Return in a sentence which folded partials lie in the range of the search; nothing without a range."""
    if view.search_hz is None:
        return []
    low, high = view.search_hz
    inside = [str(view.partials[each]) for each in these if low <= view.seen_hz[each] <= high]
    return [f"folded into the range of the search, {low:.0f} to {high:.0f} Hz: {', '.join(inside) or 'none'}"]


def _mark(axes: Axes, view: SpectrumView, these: NDArray[np.bool_], style: dict[str, Any], meaning: str) -> None:
    if these.any():
        axes.plot(view.seen_hz[these], np.maximum(view.partial_db[these], FLOOR_DB), gid=meaning, **style)


def _name(axes: Axes, view: SpectrumView) -> None:
    """Write names above marks, the strongest first; where two would overlap the weaker stays without."""
    taken: list[tuple[float, float, float]] = []
    back = folded(view)
    for each in np.argsort(-view.partial_db, kind="stable"):
        hz, level_db = float(view.seen_hz[each]), max(float(view.partial_db[each]), FLOOR_DB)
        top_db = level_db + (FOLDED_DB if back[each] else NAME_DB)
        if not any(_overlap((hz, level_db, top_db), other, APART * view.rate_hz / 2.0) for other in taken):
            taken.append((hz, level_db, top_db))
            _write(axes, hz, level_db, int(view.partials[each]), bool(back[each]))


def _overlap(one: tuple[float, float, float], other: tuple[float, float, float], apart_hz: float) -> bool:
    """Return whether two names meet, each with its frequency and the levels of its lower and upper end."""
    return abs(one[0] - other[0]) < apart_hz and one[1] < other[2] and other[1] < one[2]


def _write(axes: Axes, hz: float, level_db: float, partial: int, back: bool) -> None:
    text, colour = (f"{partial} folded", FOLDED["color"]) if back else (str(partial), PLAIN["color"])
    axes.annotate(
        text, (hz, level_db), (0, 7), textcoords="offset points", rotation=90 if back else 0,
        ha="center", va="bottom", fontsize=8, color=colour, path_effects=[HALO],
    )  # fmt: skip


def _key(view: SpectrumView) -> Sequence[Artist]:
    """Return the key: what is there, and no more."""
    back = folded(view)
    entries = (
        (True, Line2D([], [], color="black", linewidth=0.9, label="one window as the detector gets it (Hann)")),
        (not back.all(), Line2D([], [], label="partial at its expected level", **PLAIN)),
        (back.any(), Line2D([], [], label="folded partial, its number where there is room", **FOLDED)),
        (view.search_hz is not None, Patch(color=BAND, label="range of the search")),
    )
    return [entry for there, entry in entries if there]
