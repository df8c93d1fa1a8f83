"""A recording as detectors heard it: cents against time with the tolerance band, the spectrum in a strip below."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from sim.hearing.recording import Reading, Recording
from sim.views.plots.style import BAND, MUTED, Look, figure, look, put_key, put_title, save, tidy
from sim.views.recording import verdicts

LEAST_CENTS: Final = 8.0  # half-height of the pitch panel at least
MOST_CENTS: Final = 100.0  # and at most: what lies beyond is marked at the edge
BANDS: Final = 3.0  # half-height in tolerances at least
ROOM: Final = 1.2
MARK: Final = 4.0  # size of a mark, points
FLOOR_DB: Final = -80.0
PARTIALS: Final = 10  # shown in the spectrum
ACCEPTED, REFUSED, OFF_SCALE, NOT_HEARD = "accepted", "not accepted", "off the scale", "not heard"
MOST_TITLES: Final = 4  # sentences above the plot


def draw(found: Recording, out: Path) -> list[Path]:
    """Write ``recording.svg`` and ``recording.png`` into ``out``; return the paths."""
    return save(recording(found), out, "recording")


def recording(found: Recording) -> Figure:
    """Return the figure: cents over seconds, and level over hertz of the loudest window."""
    drawn = figure(6.2)
    pitch, spectrum = drawn.subplots(2, 1, height_ratios=[3.0, 1.4])
    names = tuple(dict.fromkeys(reading.detector for reading in found.readings))
    _draw_pitch(pitch, found, names)
    _draw_spectrum(spectrum, found)
    put_title(drawn, title(found))
    put_key(drawn, _key(pitch, found, names))
    return drawn


def title(found: Recording) -> list[str]:
    """Return what was found: a sentence for each of the first detectors, the file's name first."""
    said = verdicts(found) or ["no reading was accepted."]
    more = [f"and {len(said) - MOST_TITLES} more detectors."] if len(said) > MOST_TITLES else []
    first, *rest = (sentence.removesuffix(".") for sentence in [*said[:MOST_TITLES], *more])
    return [f"{Path(found.file).name}: {first}", *rest]


def _draw_pitch(axes: Axes, found: Recording, names: Sequence[str]) -> None:
    limit, tolerance = _half_height(found), found.listener.tolerance_cents
    axes.axhspan(-tolerance, tolerance, color=BAND, zorder=0)
    axes.axhline(0.0, color=MUTED, linewidth=0.6)
    for at_s in found.plucks_s:
        axes.axvline(at_s, color=MUTED, linewidth=0.6, linestyle=(0, (1, 2)), gid="pluck")
    for place, name in enumerate(names):
        own = [reading for reading in found.readings if reading.detector == name]
        _draw_readings(axes, own, look(place), limit)
    axes.set_ylim(-limit, limit)
    axes.set_xlim(0.0, found.wave.seconds())
    axes.set_ylabel(f"cents re {_reference(found)}", fontsize=9)
    axes.set_xlabel("time at the centre of the window (s)", fontsize=9)
    tidy(axes)


def _reference(found: Recording) -> str:
    return f"{found.target.name} ({found.target.hz:.2f} Hz)" if found.target else "the nearest note"


def _half_height(found: Recording) -> float:
    """Return the half-height of the pitch panel: accepted readings fit, up to a semitone."""
    far = [abs(reading.cents) for reading in found.readings if reading.accepted and reading.cents is not None]
    largest = max(LEAST_CENTS, BANDS * found.listener.tolerance_cents, *(ROOM * each for each in far), 0.0)
    return min(largest, MOST_CENTS)


def _draw_readings(axes: Axes, own: Sequence[Reading], style: Look, limit: float) -> None:
    """Mark readings: filled when accepted, hollow when not; off the scale as arrows, unheard ones as crosses."""
    heard = [(each, each.cents) for each in own if each.cents is not None]
    near = [(each, off) for each, off in heard if abs(off) <= limit]
    for wanted, meaning in ((True, ACCEPTED), (False, REFUSED)):
        _mark(axes, [(each.t_s, off) for each, off in near if each.accepted == wanted], style.marker, style, meaning)
    _mark(axes, [(each.t_s, 0.97 * limit) for each, off in heard if off > limit], "^", style, OFF_SCALE)
    _mark(axes, [(each.t_s, -0.97 * limit) for each, off in heard if off < -limit], "v", style, OFF_SCALE)
    _mark(axes, [(each.t_s, -0.9 * limit) for each in own if each.cents is None], "x", style, NOT_HEARD)


def _mark(axes: Axes, points: Sequence[tuple[float, float]], marker: str, style: Look, meaning: str) -> None:
    if points:
        at, off = zip(*points, strict=True)
        fill = "none" if meaning in (REFUSED, NOT_HEARD) else style.colour
        line = axes.plot(at, off, marker, color=style.colour, markersize=MARK, linestyle="none", gid=meaning)[0]
        line.set(markerfacecolor=fill, markeredgewidth=0.8)


def _draw_spectrum(axes: Axes, found: Recording) -> None:
    """Draw the loudest window, with the multiples of the accepted reading nearest to it."""
    spectrum, pitch_hz = found.spectrum, _pitch_near(found, found.spectrum.t_s)
    top_hz = spectrum.hz[-1] if pitch_hz is None else min(spectrum.hz[-1], (PARTIALS + 0.5) * pitch_hz)
    shown = spectrum.hz <= top_hz
    axes.plot(spectrum.hz[shown], spectrum.level_db[shown], color="black", linewidth=0.8, gid="spectrum")
    for hz in [number * pitch_hz for number in range(1, PARTIALS + 1)] if pitch_hz else []:
        axes.axvline(hz, color=MUTED, linewidth=0.6, linestyle=(0, (1, 2)), gid="multiple")
    axes.set_xlim(0.0, top_hz)
    axes.set_ylim(FLOOR_DB, 3.0)
    axes.set_ylabel("level (dB)", fontsize=9)
    dotted = "; dotted: multiples of the reading nearest to it" if pitch_hz else ""
    axes.set_xlabel(f"frequency (Hz) in the loudest window, at {spectrum.t_s:.2f} s{dotted}", fontsize=9)
    tidy(axes)


def _pitch_near(found: Recording, at_s: float) -> float | None:
    settled = [(abs(each.t_s - at_s), each.settled_hz) for each in found.readings if each.settled_hz is not None]
    return min(settled)[1] if settled else None


def _key(axes: Axes, found: Recording, names: Sequence[str]) -> list[Line2D]:
    """Return the key: a mark for each detector, then what hollow and odd marks, band and dots mean."""
    looks = [(name, look(place)) for place, name in enumerate(names)]
    there = {line.get_gid() for line in axes.lines}
    kinds = ((REFUSED, "o"), (OFF_SCALE, "v"), (NOT_HEARD, "x"))
    return [
        *(_only_mark(style.marker, style.colour, style.colour, name) for name, style in looks),
        *(
            _only_mark(marker, MUTED, MUTED if meaning == OFF_SCALE else "none", meaning)
            for meaning, marker in kinds
            if meaning in there
        ),
        Line2D([], [], color=BAND, linewidth=6, label=f"tolerance ±{found.listener.tolerance_cents:g} cents"),
        *([Line2D([], [], color=MUTED, linestyle=(0, (1, 2)), label="pluck (top)")] if "pluck" in there else []),
    ]


def _only_mark(marker: str, colour: str, fill: str, label: str) -> Line2D:
    return Line2D(
        [], [], color=colour, marker=marker, markerfacecolor=fill, markersize=MARK, linestyle="none", label=label
    )
