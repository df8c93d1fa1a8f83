"""One pluck listened to until it has died away: readings and the true pitch, which glides and beats."""

from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from sim.hearing.study import Floats, LongPluck, Study
from sim.views.numbers import signed
from sim.views.plots.hearing_panels import truth
from sim.views.plots.style import BAND, LOOKS, MUTED, figure, put_key, put_title, tidy

MOST: Final = 95.0  # percent of what is drawn that has to fit
GROSS_CENTS: Final = 50.0  # what is farther off does not set the scale
ROOM: Final = 1.2
MARK: Final = 4.5
ACCEPTED, REFUSED, OFF_SCALE, NOT_HEARD = "accepted reading", "refused reading", "reading off the scale", "not heard"


def over_time(study: Study, pluck: LongPluck) -> Figure:
    """Return the figure: error in cents, and signal over noise in decibels, over seconds after the pluck."""
    drawn = figure(5.6)
    pitch, ratio = drawn.subplots(2, 1, sharex=True, height_ratios=[3.0, 1.0])
    _draw_pitch(pitch, study, pluck)
    ratio.plot(pluck.seconds, np.where(np.isfinite(pluck.snr_db), pluck.snr_db, np.nan), color="black", linewidth=1.2)
    ratio.set_ylabel("string over\nnoise (dB)", fontsize=9)
    ratio.set_xlabel("time after the pluck (s); readings at the centres of their windows", fontsize=9)
    ratio.set_xlim(0.0, 1.02 * float(max(pluck.seconds.max(), pluck.true_seconds.max())))
    tidy(ratio)
    put_title(drawn, title(study, pluck))
    put_key(drawn, _key(study, pitch))
    return drawn


def title(study: Study, pluck: LongPluck) -> list[str]:
    """Return how many accepted readings lie within the tolerance, and what the string itself does."""
    accepted = pluck.error_cents[pluck.accepted]
    near = int(np.count_nonzero(np.abs(accepted) <= study.tolerance_cents))
    beats = float(np.nanpercentile(np.abs(pluck.true_cents - pluck.glide_cents), MOST))
    return [
        f"{pluck.string}, {study.own}: {accepted.size} of {pluck.seconds.size} windows accepted, "
        f"{near} of them within ±{study.tolerance_cents:g} cents of the {truth(study)}",
        f"the first partial itself glides from {signed(pluck.glide_cents[0])} to "
        f"{signed(pluck.glide_cents[-1])} cents; its two polarisations beat within ±{beats:.1f} cents "
        f"for {MOST:.0f} % of the time",
    ]


def half_height(study: Study, pluck: LongPluck) -> float:
    """Return the half-height in cents: tolerance and glide fit, and most of the beats and of the plausible readings."""
    near = pluck.error_cents[np.abs(pluck.error_cents) <= GROSS_CENTS]
    largest = [1.5 * study.tolerance_cents, float(np.abs(pluck.glide_cents).max()), _most(pluck.true_cents)]
    return ROOM * max(*largest, _most(near))


def _most(values: Floats) -> float:
    known = np.abs(values[np.isfinite(values)])
    return float(np.percentile(known, MOST)) if known.size else 0.0


def _draw_pitch(axes: Axes, study: Study, pluck: LongPluck) -> None:
    limit = half_height(study, pluck)
    axes.axhspan(-study.tolerance_cents, study.tolerance_cents, color=BAND, zorder=0)
    axes.axhline(0.0, color=MUTED, linewidth=0.6)
    axes.plot(pluck.true_seconds, pluck.true_cents, color=LOOKS[0].colour, linewidth=1.0, gid="true")
    axes.plot(pluck.true_seconds, pluck.glide_cents, color="black", linewidth=1.3, linestyle=(0, (5, 2)), gid="glide")
    _draw_readings(axes, pluck, limit)
    axes.set_ylim(-limit, limit)
    axes.set_ylabel(f"error re the resting string's\n{truth(study)} (cents)", fontsize=9)
    tidy(axes)


def _draw_readings(axes: Axes, pluck: LongPluck, limit: float) -> None:
    """Mark readings: accepted filled, refused hollow, off the scale as arrows at its edge, unheard ones as crosses."""
    error, edge = pluck.error_cents, np.full(pluck.seconds.shape, 0.95 * limit)
    near = np.abs(error) <= limit
    _mark(axes, pluck, near & pluck.accepted, error, "o", ACCEPTED)
    _mark(axes, pluck, near & ~pluck.accepted, error, "o", REFUSED)
    _mark(axes, pluck, error > limit, edge, "^", OFF_SCALE)
    _mark(axes, pluck, error < -limit, -edge, "v", OFF_SCALE)
    _mark(axes, pluck, np.isnan(error), -0.95 * edge, "x", NOT_HEARD)


def _mark(axes: Axes, pluck: LongPluck, these: NDArray[np.bool_], heights: Floats, marker: str, meaning: str) -> None:
    if these.any():
        style = _marks(marker, meaning)
        axes.plot(pluck.seconds[these], heights[these], linestyle="none", gid=meaning, **style)


def _marks(marker: str, meaning: str) -> dict[str, Any]:
    colour = LOOKS[1].colour
    fill = "white" if meaning == REFUSED else colour
    return {"marker": marker, "color": colour, "markerfacecolor": fill, "markersize": MARK}


def _key(study: Study, axes: Axes) -> list[Line2D | Patch]:
    """Return the key: what is there, and no more."""
    seen = {line.get_gid(): line for line in axes.lines}
    marks = [
        Line2D([], [], linestyle="none", label=meaning, **_marks(str(seen[meaning].get_marker()), meaning))
        for meaning in (ACCEPTED, REFUSED, OFF_SCALE, NOT_HEARD)
        if meaning in seen
    ]
    return [
        Line2D([], [], color="black", linewidth=1.3, linestyle=(0, (5, 2)), label="first partial: glide alone"),
        Line2D([], [], color=LOOKS[0].colour, linewidth=1.0, label="first partial: glide and beats"),
        Patch(color=BAND, label=f"tolerance ±{study.tolerance_cents:g} cents"),
        *marks,
    ]
