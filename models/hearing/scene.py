"""What reaches the microphone while a string is tuned, and what a circuit makes of it at a row of instants.

The tones: the plucked string, the strings beside it, mains hum, the turning motor. The noises: room, circuit, attack,
motor. The circuit is a complex gain for each tone and a density for the noises, so that aliasing, a wrong clock and
jitter need nothing of their own.
"""

import math
from collections.abc import Callable, Iterator
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
from models.instrument import Instrument
from models.units import NANOSECONDS

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Gain = Callable[[Floats], Complexes]
"""Output per pascal at any frequencies in Hz."""

QUIET_PA: Final = 1e-7  # noise of an attack below this pressure is left out (-46 dB SPL)
FAINT: Final = 1e-4  # partials below this share of the strongest are left out (-80 dB)


class Instants(NamedTuple):
    """A row of instants: when it starts on the run's clock, how far apart they truly are, and how many."""

    start_ns: int
    interval_s: float
    points: int

    def end_ns(self) -> int:
        """Return the end of the row."""
        return self.start_ns + round(self.interval_s * self.points * NANOSECONDS)

    def seconds(self) -> Floats:
        """Return the instants re the first."""
        return self.interval_s * np.arange(float(self.points))


@dataclass(frozen=True, slots=True)
class Scene:
    """One string under the drive, the strings beside it, and the room."""

    voice: Voice
    neighbours: Neighbours
    room: Room

    def tones(
        self, instrument: Instrument, string: str, instants: Instants, gain: Gain, chance: EarChance, jitter_s: Floats
    ) -> Floats:
        """Return the sum of all tones behind a gain, shape (points,); jitter moves the plucked string's instants."""
        found = self._hum(instants, gain)
        for pluck, first, last in _ringing(instrument, string, instants):
            part = Instants(_at(instants, first), instants.interval_s, last - first)
            found[first:last] += self._string(instrument, string, pluck, part, gain, chance, jitter_s[first:last])
        for first, last in _turning(instrument, string, instants):
            found[first:last] += self._motor(Instants(_at(instants, first), instants.interval_s, last - first), gain)
        return found

    def bursts(self, instrument: Instrument, string: str, instants: Instants) -> Floats:
        """Return the rms pressure of attack and motor noise over the instants, shape (points,), in Pa."""
        sound, found = self.voice.sound, np.zeros(instants.points)
        for pluck, first, last in _ringing(instrument, string, instants):
            struck_ns, level_db = instrument.plucks[string][pluck]
            since_s = (_at(instants, first) - struck_ns) / NANOSECONDS
            loud_pa = pressure_pa(sound.level_db_spl + level_db + sound.attack_db) * math.exp(-since_s / sound.attack_s)
            if loud_pa > QUIET_PA:
                times_s = instants.interval_s * np.arange(last - first)
                found[first:last] += loud_pa * np.exp(-times_s / sound.attack_s)
        for first, last in _turning(instrument, string, instants):
            found[first:last] += pressure_pa(self.room.motor_db_spl)
        return found

    def _hum(self, instants: Instants, gain: Gain) -> Floats:
        hz, peaks = self.room.hum()
        return _continuous(hz, peaks, instants, gain)

    def _motor(self, instants: Instants, gain: Gain) -> Floats:
        hz, peaks = self.room.motor()
        return _continuous(hz, peaks, instants, gain)

    def _string(
        self, instrument: Instrument, string: str, pluck: int, instants: Instants, gain: Gain, chance: EarChance,
        jitter_s: Floats,
    ) -> Floats:  # fmt: skip
        struck_ns, level_db = instrument.plucks[string][pluck]
        since_s = (instants.start_ns - struck_ns) / NANOSECONDS
        stream = chance.sound(pluck)
        course = instrument.course_hz(string, instants.start_ns, instants.end_ns())
        first_hz = self.voice.string.target_hz if course is None else course[1][0]
        partials = self.voice.partials(first_hz, level_db, stream)
        heard = np.zeros(instants.points)
        if course is not None:
            before = _cycles_before(instrument, string, struck_ns, instants.start_ns, first_hz)
            cycles = before + self._cycles(course, since_s, instants, jitter_s)
            heard = _sounding(partials, first_hz, cycles, since_s, instants, gain)
        return heard + self._ringing_along(level_db, since_s, instants, gain, stream)

    def _cycles(
        self, course: tuple[list[float], list[float]], since_s: float, instants: Instants, jitter_s: Floats
    ) -> Floats:
        """Return the cycles of the first partial since the start of the instants: pitch, then glide."""
        at_s = instants.seconds() + jitter_s
        times, hz = (np.array(each) for each in course)
        glided = self.voice.sound.glide_cycles(since_s + at_s)
        if len(times) == 2 and hz[0] == hz[1]:
            return float(hz[0]) * (at_s + glided)
        corners = np.concatenate([[0.0], np.cumsum(0.5 * (hz[1:] + hz[:-1]) * np.diff(times))])
        place = np.clip(np.searchsorted(times, at_s, "right") - 1, 0, len(times) - 2)
        within, slopes = at_s - times[place], np.diff(hz) / np.diff(times)
        found: Floats = corners[place] + within * (hz[place] + 0.5 * slopes[place] * within) + hz.mean() * glided
        return found

    def _ringing_along(
        self, level_db: float, since_s: float, instants: Instants, gain: Gain, stream: np.random.Generator
    ) -> Floats:
        """Return the other strings, which the pluck set ringing."""
        beside = self.neighbours
        if not len(beside.hz):
            return np.zeros(instants.points)
        fading = np.exp((TURN * 1j * beside.hz - beside.decays_s) * since_s)
        now = beside.struck(level_db, stream) * fading * gain(beside.hz)
        return steady(now, beside.hz, beside.decays_s, instants.interval_s, instants.points)


def _sounding(
    partials: Partials, first_hz: float, cycles: Floats, since_s: float, instants: Instants, gain: Gain
) -> Floats:
    """Return the plucked string behind a gain, without the partials that nobody hears."""
    amplitudes = partials.amplitudes * gain(partials.ratios * first_hz)
    now = np.abs(amplitudes) * np.exp(-partials.decays_s * since_s)
    loud = now > FAINT * now.max()
    return moving(
        amplitudes[loud], partials.ratios[loud], partials.decays_s[loud], cycles, instants.interval_s, since_s
    )


def _continuous(hz: Floats, peaks: Floats, instants: Instants, gain: Gain) -> Floats:
    """Return tones that go on through the whole run."""
    start = peaks * gain(hz) * np.exp(TURN * 1j * ((hz * (instants.start_ns / NANOSECONDS)) % 1.0))
    return steady(start, hz, np.zeros(len(hz)), instants.interval_s, instants.points)


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


def _ringing(instrument: Instrument, string: str, instants: Instants) -> Iterator[tuple[int, int, int]]:
    """Give each pluck that sounds in the row, with the instants from which and to which it does."""
    plucks, end = instrument.plucks[string], instants.points
    for pluck in range(len(plucks) - 1, -1, -1):
        first = _place(instants, plucks[pluck][0])
        if first < end:
            yield pluck, first, end
            end = first
        if first == 0:
            return


def _turning(instrument: Instrument, string: str, instants: Instants) -> Iterator[tuple[int, int]]:
    for begin_s, end_s in instrument.turning_s(string, instants.start_ns, instants.end_ns()):
        first, last = (min(round(edge / instants.interval_s), instants.points) for edge in (begin_s, end_s))
        if first < last:
            yield first, last
