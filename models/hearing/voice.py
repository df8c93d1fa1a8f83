"""One string as a source of sound: its partials at the microphone after a pluck."""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.hearing.microphone import pressure_pa
from models.hearing.sound import Sound
from models.strings.tension import Strung
from models.strings.vibration import inharmonicity

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


class Partials(NamedTuple):
    """Partials of one pluck, both polarisations; arrays of one shape (tones,)."""

    ratios: Floats
    """Frequency over that of the first partial."""
    amplitudes: Complexes
    """Peak pressure in Pa with the phase, at the pluck."""
    decays_s: Floats
    """Decay rates in 1/s."""


@dataclass(frozen=True, slots=True)
class Voice:
    """A string on a body that keeps its own colour."""

    string: Strung
    sound: Sound
    colour: Floats
    """Gain of the body partial by partial, beside its lowest resonance; shape (partials,)."""

    def draws(self) -> int:
        """Return how many uniform draws a pluck needs: its place, and the phases of both polarisations."""
        return 1 + 2 * self.sound.partials

    def partials(self, first_hz: float, level_db: float, stream: np.random.Generator) -> Partials:
        """Return the partials of a pluck at a level re the usual one; ``stream`` gives its position and phases."""
        sound, draws = self.sound, stream.random(self.draws())
        position = float(struck_at(sound.pluck_position, sound.pluck_position_spread, float(draws[0])))
        ratios = self.ratios(first_hz)
        strengths = sound.strengths(position) * self.heights(ratios * first_hz)
        both = _twice(strengths, sound.second_share)
        scale = math.sqrt(2.0) * pressure_pa(sound.level_db_spl + level_db) / math.sqrt(float(both @ both))
        return Partials(
            ratios=_twice(ratios, 2.0 ** (sound.second_cents / 1200.0)),
            amplitudes=scale * both * np.exp(2j * math.pi * draws[1:]),
            decays_s=_decays_s(sound, self.string.t60_s),
        )

    def heights(self, hz: Floats) -> Floats:
        """Return the gain of the body with its colour, partial by partial."""
        found: Floats = self.sound.body(hz) * self.colour
        return found

    def ratios(self, first_hz: float) -> Floats:
        """Return the partials' frequencies over the first: ``n sqrt((1 + B n^2) / (1 + B))``."""
        numbers = self.sound.numbers()
        stiff = inharmonicity(self.string.bending_n, self.string.tension_at_hz(first_hz))
        found: Floats = numbers * np.sqrt((1.0 + stiff * numbers**2) / (1.0 + stiff))
        return found


def struck_at(usual: float | Floats, spread: float | Floats, uniform: float | Floats) -> Floats:
    """Return where a string is plucked as a share of its length, off both ends."""
    found: Floats = np.minimum(np.maximum(usual + spread * (2.0 * uniform - 1.0), 0.01), 0.99)
    return found


def _twice(values: Floats, factor: float = 1.0) -> Floats:
    """Return values of the first polarisation, then of the second: the same times a factor."""
    return np.concatenate([values, values * factor])


@lru_cache(maxsize=256)
def _decays_s(sound: Sound, t60_s: float) -> Floats:
    return _twice(sound.decays_s(t60_s))


def colour(sound: Sound, stream: np.random.Generator | None) -> Floats:
    """Return the gains of a body from partial to partial; all 1 without a stream."""
    if stream is None:
        return np.ones(sound.partials)
    found: Floats = 10.0 ** (sound.body_spread_db * stream.standard_normal(sound.partials) / 20.0)
    return found
