"""How a plucked string sounds at the microphone: partials, body, glide, beats, attack, and the strings beside it."""

import math
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from models.component import Positive, Share, component

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LN_60_DB: Final = 3.0 * math.log(10.0)  # a level falls by 60 dB in T60: exp(-s T60) = 1/1000
LOWER, UPPER = 1, 10  # partials whose decay times are given


@component
class Sound:
    """A pluck on an instrument with a body.

    Law: partial n of a string plucked at the share ``beta`` of its length has the strength ``sin(n pi beta) / n``
    (force on the bridge), times the body; it decays at ``s_n = s_1 + b (n^2 - 1)``. The pitch glides as ``f (1 + g
    exp(-t/tau))``. A second polarisation, a little detuned, beats with the first. All partials together have
    ``level_db_spl`` at the start of a usual pluck.

    Fails when: the string rattles, or a body resonance is strong enough to pull a partial.

    Source: plucked string: Fletcher & Rossing, The Physics of Musical Instruments, section 2.8; decay growing with the
    square of frequency: Woodhouse, Acta Acustica 90 (2004); glide: Lee et al., DAFx 2009. Amounts: estimates.
    """

    level_db_spl: Annotated[float, Field(ge=0, le=140)]
    """Level of a usual fresh pluck at the microphone. 70 at 0.3 m from an acoustic guitar; measure yours."""

    partials: Annotated[int, Field(ge=1, le=60)]
    """Partials that are computed. Twenty reach the ear; more matter only without an anti-alias filter."""

    pluck_position: Annotated[float, Field(gt=0, lt=1)]
    """Where the string is plucked, as a share of its length from the bridge."""

    pluck_position_spread: Annotated[float, Field(ge=0, le=0.2)]
    """How far a pluck may lie from that place, evenly, as a share of the length."""

    body_hz: Positive
    """Lowest resonance of the body, below which it radiates little."""

    body_q: Annotated[float, Field(gt=0.1, le=50)]
    """Quality factor of that resonance: how much it stands out."""

    body_spread_db: Annotated[float, Field(ge=0, le=20)]
    """Standard deviation of the body's response from partial to partial: an instrument keeps it."""

    t60_10_share: Annotated[float, Field(gt=0, le=1)]
    """Decay time of the tenth partial over that of the first."""

    glide_cents: Annotated[float, Field(ge=0, le=200)]
    """How far above its rest the pitch starts after a pluck. 2 to 5 gently, 20 to 50 hard."""

    glide_s: Positive
    """Time constant of the glide."""

    second_share: Share
    """Amplitude of the second polarisation over the first."""

    second_cents: Annotated[float, Field(ge=-50, le=50)]
    """Detuning of the second polarisation."""

    attack_db: Annotated[float, Field(ge=-200, le=40)]
    """Level of the attack's noise re the pluck."""

    attack_s: Positive
    """Time constant of the attack's noise."""

    neighbours_db: Annotated[float, Field(ge=-200, le=20)]
    """Level of each other string re the plucked one: it rings along. -20 if it is not damped, -200 if there is none."""

    def strengths(self, position: float) -> Floats:
        """Return the partials' amplitudes of a pluck at a share of the length, shape (partials,)."""
        numbers = self.numbers()
        return np.abs(np.sin(numbers * math.pi * position)) / numbers

    def numbers(self) -> Floats:
        """Return 1 to the number of partials."""
        return np.arange(1, self.partials + 1, dtype=np.float64)

    def body(self, hz: Floats) -> Floats:
        """Return the body's gain: a second-order high-pass, 1 far above its resonance."""
        r = np.asarray(hz) / self.body_hz
        return np.abs(r**2 / (1.0 - r**2 + 1j * r / self.body_q))

    def decays_s(self, t60_s: float) -> Floats:
        """Return the partials' decay rates in 1/s for a first partial of ``t60_s``."""
        first = LN_60_DB / t60_s
        growth = (first / self.t60_10_share - first) / (UPPER**2 - LOWER**2)
        return first + growth * (self.numbers() ** 2 - 1.0)

    def glide(self, seconds: Floats) -> Floats:
        """Return the pitch as a ratio to its rest, so long after the pluck."""
        ratio: Floats = 1.0 + self._glide_depth() * np.exp(-np.asarray(seconds) / self.glide_s)
        return ratio

    def glided_s(self, seconds: float) -> float:
        """Return ``glide_cycles`` of one instant."""
        return self._glide_depth() * self.glide_s * -math.expm1(-seconds / self.glide_s)

    def glide_cycles(self, seconds: Floats) -> Floats:
        """Return what the glide adds to the integral of that ratio since the pluck, in seconds."""
        added: Floats = self._glide_depth() * self.glide_s * (1.0 - np.exp(-np.asarray(seconds) / self.glide_s))
        return added

    def _glide_depth(self) -> float:
        return float(2.0 ** (self.glide_cents / 1200.0)) - 1.0
