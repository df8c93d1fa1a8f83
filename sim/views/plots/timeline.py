"""One run on one time axis: pitch and readings, motor, tension, plucks and events; several strategies overlaid."""

import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from models.messages import Reading, Spin, Turn
from sim.metrics import measures
from sim.trace import Floats, Outcome, Trace
from sim.views.plots.style import BAND, MUTED, Look, brief, figure, look, put_key, put_title, save, tidy

Named = tuple[str, Trace]

LEAST_CENTS: Final = 5.0  # half-height of the pitch panel when nothing leaves the band
ROOM: Final = 1.15  # of the largest pitch error
EVENT_INCH: Final = 0.2  # height of a row of events
MARK: Final = 4.5  # size of a reading's mark, points
READING, OFF_SCALE, NOT_HEARD = "reading", "reading off the scale", "not heard"
ENDS: Final = {
    Outcome.FINISHED: "finished",
    Outcome.GAVE_UP: "gave up",
    Outcome.TIME_LIMIT: "hit the time limit",
    Outcome.PLUCK_LIMIT: "hit the pluck limit",
    Outcome.STRING_BROKE: "broke the string",
    Outcome.STALLED: "stalled",
    Outcome.TRAVEL_USED_UP: "used up its travel",
    Outcome.CRASHED: "crashed",
    Outcome.GUARD_TRIPPED: "was stopped by a guard",
}


def draw(traces: Sequence[Named], out: Path) -> list[Path]:
    """Write ``timeline.svg`` and ``timeline.png`` into ``out``; return the paths.

    ``traces`` are (strategy, run) pairs on one string and seed. Raises ``ValueError`` when there are none.
    """
    return save(timeline(traces), out, "timeline")


def timeline(traces: Sequence[Named]) -> Figure:
    """Return the figure: pitch in cents, shaft in degrees, tension in percent of breaking, events, over seconds."""
    if not traces:
        raise ValueError("a timeline needs at least one run")
    events_inch = EVENT_INCH * sum(len(_instants(run)) for _, run in traces) + 0.5
    drawn = figure(6.6 + events_inch)
    heights = [3.0, 1.6, 1.3, events_inch]
    pitch, shaft, tension, events = drawn.subplots(4, 1, sharex=True, height_ratios=heights)
    _draw_pitch(pitch, traces)
    _draw_lines(shaft, traces, lambda run: run.shaft_deg, "shaft (deg)")
    _draw_lines(tension, traces, _percent_of_breaking, "tension\n(% of breaking)")
    _draw_events(events, traces)
    put_title(drawn, title(traces))
    put_key(drawn, _key(pitch, traces))
    return drawn


def title(traces: Sequence[Named]) -> list[str]:
    """Return one sentence a strategy that states how its run ended, the string's name first."""
    sentences = [f"{name} {_verdict(run)}" for name, run in traces]
    return [f"{traces[0][1].string}: {sentences[0]}", *sentences[1:]]


def _verdict(run: Trace) -> str:
    found = measures(run)
    after = f"after {_count(len(run.plucks_s), 'pluck')} and {run.end_s:.1f} s"
    error = _error(found["final_error_cents"])
    if found["in_tune"]:
        return f"in tune, {error}, {after}"
    if found["finished"]:
        return f"finished but not in tune, {error}, {after}"
    return f"{ENDS[run.outcome]} {after}, {error}"


def _error(cents: float) -> str:
    if math.isnan(cents):
        return "no pitch left"
    return f"{abs(cents):.1f} cents {'sharp' if cents > 0 else 'flat'}"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _percent_of_breaking(run: Trace) -> Floats:
    return 100.0 * run.tension_n / run.breaking_n


def _draw_pitch(axes: Axes, traces: Sequence[Named]) -> None:
    limit = _half_height(traces)
    tolerance = traces[0][1].tolerance_cents
    axes.axhspan(-tolerance, tolerance, color=BAND, zorder=0)
    axes.axhline(0.0, color=MUTED, linewidth=0.6)
    for number, (name, run) in enumerate(traces):
        style = look(number)
        axes.plot(run.t_s, run.first_partial_cents, color=style.colour, linewidth=1.5, label=name)
        axes.plot(run.t_s, run.effective_cents, color=style.colour, linewidth=1.0, linestyle=(0, (3, 2)))
        _draw_readings(axes, run.readings, style, limit)
    axes.set_ylim(-limit, limit)
    axes.set_ylabel("pitch error (cents)", fontsize=9)
    tidy(axes)


def _half_height(traces: Sequence[Named]) -> float:
    """Return the half-height of the pitch panel: the true pitches fit, wild readings need not."""
    largest = [LEAST_CENTS, *(1.5 * run.tolerance_cents for _, run in traces)]
    for _, run in traces:
        known = np.concatenate([run.first_partial_cents, run.effective_cents])
        largest.append(float(np.max(np.abs(known[np.isfinite(known)]), initial=0.0)))
    return ROOM * max(largest)


def _draw_readings(axes: Axes, readings: Sequence[Reading], style: Look, limit: float) -> None:
    """Mark readings at the centre of their windows; off the scale as arrows at its edge, unheard ones as crosses."""
    heard = [(seen.centre_s, seen.cents) for seen in readings if seen.cents is not None]
    missed = [(seen.centre_s, -0.95 * limit) for seen in readings if seen.cents is None]
    _mark(axes, [point for point in heard if abs(point[1]) <= limit], style.marker, style.colour, READING)
    _mark(axes, [(at, 0.95 * limit) for at, cents in heard if cents > limit], "^", style.colour, OFF_SCALE)
    _mark(axes, [(at, -0.95 * limit) for at, cents in heard if cents < -limit], "v", style.colour, OFF_SCALE)
    _mark(axes, missed, "x", style.colour, NOT_HEARD)


def _mark(axes: Axes, points: Sequence[tuple[float, float]], marker: str, colour: str, meaning: str) -> None:
    if points:
        at, cents = zip(*points, strict=True)
        fill = colour if meaning == OFF_SCALE else "none"
        axes.plot(at, cents, marker, color=colour, markerfacecolor=fill, markersize=MARK, linestyle="none", gid=meaning)


def _key(axes: Axes, traces: Sequence[Named]) -> list[Line2D]:
    """Return the key: a marked line a strategy, then what line styles, band and odd marks mean."""
    looks = [(name, look(number)) for number, (name, _) in enumerate(traces)]
    names = [
        Line2D(
            [],
            [],
            color=style.colour,
            linestyle=style.line,
            marker=style.marker,
            markersize=MARK,
            fillstyle="none",
            label=f"{name}, readings",
        )
        for name, style in looks
    ]
    odd = [
        Line2D([], [], color=MUTED, marker=marker, markersize=MARK, linestyle="none", label=meaning)
        for meaning, marker in ((OFF_SCALE, "v"), (NOT_HEARD, "x"))
        if any(line.get_gid() == meaning for line in axes.lines)
    ]
    return [
        *names,
        Line2D([], [], color=MUTED, label="first partial (top)"),
        Line2D([], [], color=MUTED, linestyle=(0, (3, 2)), linewidth=1.0, label="effective pitch (top)"),
        Line2D([], [], color=BAND, linewidth=6, label=f"tolerance ±{traces[0][1].tolerance_cents:g} cents"),
        *odd,
    ]


def _draw_lines(axes: Axes, traces: Sequence[Named], column: Callable[[Trace], Floats], label: str) -> None:
    for number, (name, run) in enumerate(traces):
        style = look(number)
        axes.plot(run.t_s, column(run), color=style.colour, linestyle=style.line, linewidth=1.4, label=name)
    axes.set_ylabel(label, fontsize=9)
    axes.margins(y=0.1)
    tidy(axes)


def _draw_events(axes: Axes, traces: Sequence[Named]) -> None:
    """Draw rows of ticks for each strategy: plucks, moves asked for, re-grips; a filled mark ends its last row."""
    labels: list[str] = []
    for number, (name, run) in enumerate(traces):
        style = look(number)
        for kind, at in _instants(run).items():
            axes.eventplot(at, lineoffsets=-len(labels), linelengths=0.7, colors=style.colour, linewidths=1.2)
            labels.append(f"{brief(name)}: {kind}")
        axes.plot(
            run.end_s, 1.0 - len(labels), style.marker, color=style.colour, markersize=6, clip_on=False, gid="end"
        )
    axes.set_yticks([-row for row in range(len(labels))], labels)
    axes.set_ylim(-len(labels) + 0.4, 0.6)
    axes.set_xlim(left=0.0, right=1.02 * max(run.end_s for _, run in traces))
    axes.set_xlabel("time (s); a filled mark at the end of a row: end of the run", fontsize=9)
    tidy(axes)
    axes.tick_params(axis="y", labelsize=7.5, length=0)


def _instants(run: Trace) -> dict[str, Sequence[float]]:
    """Return the instants of plucks, of commands that move the motor, and of re-grips if there were any."""
    found: dict[str, Sequence[float]] = {
        "plucks": run.plucks_s,
        "moves": [at for at, command in run.commands if isinstance(command, Turn | Spin)],
    }
    return found | ({"re-grips": run.regrips_s} if run.regrips_s else {})
