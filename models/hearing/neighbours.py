"""The strings beside the plucked one: they rest at their targets and ring along with each pluck."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.hearing.microphone import pressure_pa
from models.hearing.sound import Sound
from models.hearing.voice import Voice, struck_at

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LOUDEST: Final = 8  # partials that are heard of a string that rings along
FAINT_DB: Final = -80.0  # re the plucked string; fainter strings are left out


@dataclass(frozen=True, slots=True)
class Neighbours:
    """What no pluck changes, made once; strings in rows, partials in columns."""

    draws: int
    """Uniform draws that a pluck needs for all of them, heard or not."""
    first: NDArray[np.intp]
    """Which draw gives a string's pluck position; those of its phases follow. Shape (strings,)."""
    positions: Floats
    """Usual pluck position and spread, as shares of the length; shape (strings, 2)."""
    heights: Floats
    """Gain of body and colour partial by partial, zero where there is none; shape (strings, partials)."""
    peaks_pa: Floats
    """Root of the sum of squares of all partials of the first polarisation; shape (strings, 1)."""
    hz: Floats
    """Of what is heard, string after string; shape (tones,), like the next."""
    decays_s: Floats

    def struck(self, level_db: float, stream: np.random.Generator) -> Complexes:
        """Return peak pressures in Pa with their phases, at a pluck of a level re the usual one; shape (tones,)."""
        draws = stream.random(self.draws)
        places = struck_at(self.positions[:, 0], self.positions[:, 1], draws[self.first])
        numbers = np.arange(1.0, self.heights.shape[1] + 1.0)
        strengths = np.abs(np.sin(np.outer(places, math.pi * numbers))) / numbers * self.heights
        scale = 10.0 ** (level_db / 20.0) * self.peaks_pa / np.sqrt((strengths**2).sum(axis=1, keepdims=True))
        phases = draws[np.minimum(self.first[:, None] + np.arange(1, LOUDEST + 1), self.draws - 1)]
        found: Complexes = scale * strengths[:, :LOUDEST] * np.exp(2j * math.pi * phases)
        return found.ravel()


def neighbours(voices: Sequence[Voice]) -> Neighbours:
    """Return strings that rest at their targets, in the order in which they draw."""
    ends = np.cumsum([0, *(voice.draws() for voice in voices)])
    heard = [number for number, voice in enumerate(voices) if voice.sound.neighbours_db > FAINT_DB]
    kept = [voices[number] for number in heard]
    hz = [voice.ratios(voice.string.target_hz) * voice.string.target_hz for voice in kept]
    return Neighbours(
        draws=int(ends[-1]),
        first=ends[heard],
        positions=np.array([(voice.sound.pluck_position, voice.sound.pluck_position_spread) for voice in kept]),
        heights=_table([voice.heights(each) for voice, each in zip(kept, hz, strict=True)]),
        peaks_pa=np.array([[_peak_pa(voice.sound)] for voice in kept]),
        hz=_table(hz)[:, :LOUDEST].ravel(),
        decays_s=_table([voice.sound.decays_s(voice.string.t60_s) for voice in kept])[:, :LOUDEST].ravel(),
    )


def _peak_pa(sound: Sound) -> float:
    """Return the root of the sum of squares that the first polarisation of a neighbour has at a usual pluck."""
    both = math.sqrt(1.0 + sound.second_share**2)
    return math.sqrt(2.0) * pressure_pa(sound.level_db_spl + sound.neighbours_db) / both


def _table(rows: Sequence[Floats]) -> Floats:
    """Return rows of any length as a table, filled with zeros."""
    table = np.zeros((len(rows), max([LOUDEST, *map(len, rows)])))
    for filled, row in zip(table, rows, strict=True):
        filled[: len(row)] = row
    return table
