"""What reaches the microphone while a string is tuned, and what a circuit makes of it at a row of instants.

The tones: the plucked string, the strings beside it, mains hum, the turning motor. The noises: room, circuit, attack,
motor. The circuit is a complex gain for each tone and a density for the noises, so that aliasing, a wrong clock and
jitter need nothing of their own.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.hearing.base import EarChance
from models.hearing.microphone import pressure_pa
from models.hearing.neighbours import Neighbours
from models.hearing.room import Room
from models.hearing.tones import TURN, moving, steady
from models.hearing.voice import Partials, Voice
from models.instrument import Course, Instrument
from models.units import NANOSECONDS

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Gain = Callable[[Floats], Complexes]
"""Output per pascal at any frequencies in Hz."""

QUIET_PA: Final = 1e-7  # noise of an attack below this pressure is left out (-46 dB SPL)
FAINT: Final = 1e-4  # partials below this share of the strongest are left out (-80 dB)
STEADY_CYCLES: Final = 1e-3  # that the highest partial may glide in a window and still count as steady


class Instants(NamedTuple):
    """A row of instants: when it starts on the run's clock, how far apart they truly are, and how many."""

    start_ns: int
    interval_s: float
    points: int

    def end_ns(self) -> int:
        """Return the end of the row."""
        return self.start_ns + round(self.interval_s * self.points * NANOSECONDS)

    def part(self, first: int, last: int) -> "Instants":
        """Return the instants from one place in the row up to another."""
        return self if last - first == self.points else Instants(_at(self, first), self.interval_s, last - first)

    def seconds(self) -> Floats:
        """Return the instants re the first."""
        return self.interval_s * np.arange(float(self.points))


class Still(NamedTuple):
    """Tones that keep their pitch through a row; arrays of one shape (tones,)."""

    amplitudes: Complexes
    """Peaks behind the circuit, with the phase, at the first instant."""
    hz: Floats
    decays_s: Floats


class _Pluck(NamedTuple):
    """What is heard of a pluck: tones that keep their pitch, and the string's own if its pitch moves (a course)."""

    still: list[Still]
    partials: Partials
    course: Course | None
    since_s: float
    before: float
    """Cycles of the first partial from the pluck to the first instant."""


@dataclass(frozen=True, slots=True)
class Scene:
    """One string under the drive, the strings beside it, and the room."""

    voice: Voice
    neighbours: Neighbours
    room: Room

    def tones(
        self, instrument: Instrument, string: str, instants: Instants, gain: Gain, chance: EarChance, jitter_s: Floats
    ) -> Floats:
        """Return the sum of all tones behind a gain, shape (points,); ``jitter_s`` moves the instants."""
        found = np.empty(instants.points)
        for pluck, first, last in _sections(instrument, string, instants):
            part = instants.part(first, last)
            still = [self._hum(part, gain)]
            found[first:last] = 0.0
            if pluck is not None:
                heard = self._plucked(instrument, string, pluck, part, gain, chance)
                still += heard.still
                if heard.course is not None:
                    found[first:last] = self._moving(heard, part, jitter_s[first:last])
            found[first:last] += _sum(still, part, jitter_s[first:last])
        for first, last in _turning(instrument, string, instants):
            part = instants.part(first, last)
            found[first:last] += _sum([self._motor(part, gain)], part, jitter_s[first:last])
        return found

    def bursts(self, instrument: Instrument, string: str, instants: Instants) -> Floats:
        """Return the rms pressure of attack and motor noise over the instants, shape (points,), in Pa."""
        sound, found = self.voice.sound, np.zeros(instants.points)
        for pluck, first, last in _sections(instrument, string, instants):
            if pluck is None:
                continue
            struck_ns, level_db = instrument.plucks[string][pluck]
            since_s = (_at(instants, first) - struck_ns) / NANOSECONDS
            loud_pa = pressure_pa(sound.level_db_spl + level_db + sound.attack_db) * math.exp(-since_s / sound.attack_s)
            if loud_pa > QUIET_PA:
                times_s = instants.interval_s * np.arange(last - first)
                found[first:last] += loud_pa * np.exp(-times_s / sound.attack_s)
        for first, last in _turning(instrument, string, instants):
            found[first:last] += pressure_pa(self.room.motor_db_spl)
        return found

    def _hum(self, instants: Instants, gain: Gain) -> Still:
        return _continuous(*self.room.hum(), instants, gain)

    def _motor(self, instants: Instants, gain: Gain) -> Still:
        return _continuous(*self.room.motor(), instants, gain)

    def _plucked(
        self, instrument: Instrument, string: str, pluck: int, instants: Instants, gain: Gain, chance: EarChance
    ) -> _Pluck:
        """Return what a pluck set ringing: tones that keep their pitch, and the string itself if it does not."""
        struck_ns, level_db = instrument.plucks[string][pluck]
        since_s = (instants.start_ns - struck_ns) / NANOSECONDS
        stream = chance.sound(pluck)
        course = instrument.course_hz(string, instants.start_ns, instants.end_ns())
        first_hz = self.voice.string.target_hz if course is None else course[1][0]
        partials = self.voice.partials(first_hz, level_db, stream)
        still = [self._ringing_along(level_db, since_s, gain, stream)]
        if course is None:
            return _Pluck(still, partials, None, since_s, 0.0)
        loud = _loud(partials, first_hz, since_s, gain)
        before = _cycles_before(instrument, string, struck_ns, instants.start_ns, first_hz)
        if not self._is_steady(course, since_s, instants):
            return _Pluck(still, loud, course, since_s, before)
        before += first_hz * self.voice.sound.glided_s(since_s)
        turned = np.exp(TURN * 1j * ((loud.ratios * before) % 1.0) - loud.decays_s * since_s)
        still.append(Still(loud.amplitudes * turned, loud.ratios * first_hz, loud.decays_s))
        return _Pluck(still, loud, None, since_s, before)

    def _is_steady(self, course: Course, since_s: float, instants: Instants) -> bool:
        """Return whether the pitch stays the same for all that a window shows of it."""
        hz, sound = course[1], self.voice.sound
        if len(hz) != 2 or hz[0] != hz[1]:
            return False
        glided_s = sound.glided_s(since_s + instants.interval_s * instants.points) - sound.glided_s(since_s)
        return glided_s * hz[0] * sound.partials < STEADY_CYCLES

    def _moving(self, heard: _Pluck, instants: Instants, jitter_s: Floats) -> Floats:
        """Return a string whose pitch moves: its phase is the integral of its frequency, the glide included."""
        assert heard.course is not None
        at_s = instants.seconds() + jitter_s
        cycles = heard.before + _integral(heard.course, at_s)
        cycles += float(np.mean(heard.course[1])) * self.voice.sound.glide_cycles(heard.since_s + at_s)
        loud = heard.partials
        return moving(loud.amplitudes, loud.ratios, loud.decays_s, cycles, instants.interval_s, heard.since_s)

    def _ringing_along(self, level_db: float, since_s: float, gain: Gain, stream: np.random.Generator) -> Still:
        """Return the other strings, which the pluck set ringing."""
        beside = self.neighbours
        if not len(beside.hz):
            return Still(np.zeros(0, dtype=complex), beside.hz, beside.decays_s)
        fading = np.exp((TURN * 1j * beside.hz - beside.decays_s) * since_s)
        return Still(beside.struck(level_db, stream) * fading * gain(beside.hz), beside.hz, beside.decays_s)


def _integral(course: Course, at_s: Floats) -> Floats:
    """Return the cycles since the start of a polygon of pitches."""
    times, hz = (np.array(each) for each in course)
    if len(times) == 2 and hz[0] == hz[1]:
        return float(hz[0]) * at_s
    corners = np.concatenate([[0.0], np.cumsum(0.5 * (hz[1:] + hz[:-1]) * np.diff(times))])
    place = np.clip(np.searchsorted(times, at_s, "right") - 1, 0, len(times) - 2)
    within, slopes = at_s - times[place], np.diff(hz) / np.diff(times)
    found: Floats = corners[place] + within * (hz[place] + 0.5 * slopes[place] * within)
    return found


def _sum(still: Sequence[Still], instants: Instants, jitter_s: Floats) -> Floats:
    """Return all tones that keep their pitch, in one product."""
    amplitudes, hz, decays_s = (np.concatenate(rows) for rows in zip(*still, strict=True))
    return steady(amplitudes, hz, decays_s, instants.interval_s, instants.points, jitter_s)


def _loud(partials: Partials, first_hz: float, since_s: float, gain: Gain) -> Partials:
    """Return the plucked string's partials behind a gain, without those that nobody hears any more."""
    amplitudes = partials.amplitudes * gain(partials.ratios * first_hz)
    now = np.abs(amplitudes) * np.exp(-partials.decays_s * since_s)
    loud = now > FAINT * now.max()
    return Partials(partials.ratios[loud], amplitudes[loud], partials.decays_s[loud])


def _continuous(hz: Floats, peaks: Floats, instants: Instants, gain: Gain) -> Still:
    """Return tones that go on through the whole run."""
    start = peaks * gain(hz) * np.exp(TURN * 1j * ((hz * (instants.start_ns / NANOSECONDS)) % 1.0))
    return Still(start, hz, np.zeros(len(hz)))


def _cycles_before(instrument: Instrument, string: str, struck_ns: int, start_ns: int, now_hz: float) -> float:
    """Return the cycles from the pluck to the first instant, at the mean pitch; as now if the string was slack."""
    if start_ns <= struck_ns:
        return 0.0
    mean_hz, _ = instrument.heard_hz(string, struck_ns, start_ns, "first-partial")
    return (mean_hz or now_hz) * (start_ns - struck_ns) / NANOSECONDS


def _at(instants: Instants, place: int) -> int:
    return instants.start_ns + round(place * instants.interval_s * NANOSECONDS)


def _place(instants: Instants, at_ns: int) -> int:
    """Return the first instant at or after a time, within the row."""
    place = -(-(at_ns - instants.start_ns) // max(1, round(instants.interval_s * NANOSECONDS)))
    return int(min(max(place, 0), instants.points))


def _sections(instrument: Instrument, string: str, instants: Instants) -> Iterator[tuple[int | None, int, int]]:
    """Give the parts of a row from the last, each with the pluck that sounds in it; None before the first pluck."""
    plucks, end = instrument.plucks[string], instants.points
    for pluck in range(len(plucks) - 1, -1, -1):
        first = _place(instants, plucks[pluck][0])
        if first < end:
            yield pluck, first, end
            end = first
        if first == 0:
            return
    if end:
        yield None, 0, end


def _turning(instrument: Instrument, string: str, instants: Instants) -> Iterator[tuple[int, int]]:
    for begin_s, end_s in instrument.turning_s(string, instants.start_ns, instants.end_ns()):
        first, last = (min(round(edge / instants.interval_s), instants.points) for edge in (begin_s, end_s))
        if first < last:
            yield first, last
