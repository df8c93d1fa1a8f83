"""Friction of the string at nut and saddle: three segments that share a winding, with grips that hold and let go.

Rate-independent: a one-way winding ends in the same state however it is split. Tensions below 0 are slack, as much as
the winding that is missing.

Sources: capstan equation, Euler-Eytelwein, ``T1/T2 = exp(mu wrap)``, on guitar strings Groves & Kemp, Archives of
Acoustics 2019; stick-slip at fixed winding: independent arithmetic.
"""

import math
from functools import lru_cache
from typing import Annotated, Final, NamedTuple

from pydantic import Field

from models.component import NonNegative, Share, component
from models.strings.tension import SLACK_N

TOUCHING: Final = 1e-12  # relative distance from a threshold that counts as on it


@component
class Nut:
    """The grooves that the string runs through: nut, and saddle where the string goes on behind it.

    Law: a groove holds while ``1/rs < T1/T2 < rs`` with ``rs = exp(mu wrap)``; at the threshold the string slips until the
    ratio is ``rk = exp(mu kinetic_share wrap)``. A pluck takes ``relaxation_share`` of ``ln(T1/T2)`` away. The string
    between nut and post is what nut, speaking length and ``after_mm`` leave of its total length.

    Fails when: a wound string catches in the groove turn by turn, the groove pinches, or a pluck is unusually hard.

    Source: capstan equation (Groves & Kemp, Archives of Acoustics 2019); the values of each part say theirs.
    """

    friction: Annotated[float, Field(ge=0, le=1)]
    """Static friction coefficient of the string in the nut. Estimate from the pitch that is lost on reversing the knob."""

    wrap_deg: Annotated[float, Field(ge=0, le=90)]
    """Angle by which the string bends over the nut, down and sideways together. Measure it; 0 = slides freely."""

    saddle_friction: Annotated[float, Field(ge=0, le=1)]
    """The same coefficient on the saddle or bridge."""

    saddle_wrap_deg: Annotated[float, Field(ge=0, le=90)]
    """Angle by which the string bends over the saddle; 0 = slides freely. Not used where the string ends there."""

    kinetic_share: Annotated[float, Field(gt=0, le=1)]
    """Kinetic over static coefficient; 1 = slides without jumps. Below 1 where tuning up makes pings."""

    after_mm: Annotated[float, Field(ge=0, le=1000)]
    """Length that stretches behind the saddle, to the anchor; 0 = ends at the saddle. Measure it."""

    relaxation_share: Share
    """Share of ``ln(T1/T2)`` that one pluck takes away. Tune up, pluck on and watch the pitch creep."""


class Tensions(NamedTuple):
    """Tension of each segment; below 0 when slack."""

    behind_n: float
    """Between post and nut."""
    speaking_n: float
    """Between nut and saddle."""
    after_n: float
    """Behind the saddle; that of the speaking length where the string ends there."""


class Friction(NamedTuple):
    """Stiffness of each segment and tension ratios (1 or more) at which the grooves let go and hold again."""

    behind_n_m: float
    speaking_n_m: float
    after_n_m: float
    """0 where the string ends at the saddle."""
    nut_static: float
    nut_kinetic: float
    saddle_static: float
    saddle_kinetic: float

    def stretch_m(self, tensions: Tensions) -> float:
        """Return by how much the whole string is stretched."""
        after_m = tensions.after_n / self.after_n_m if self.after_n_m else 0.0
        return tensions.behind_n / self.behind_n_m + tensions.speaking_n / self.speaking_n_m + after_m

    def whole_n_m(self) -> float:
        """Return the stiffness of the whole string when it slides freely."""
        return 1.0 / self.stretch_m(equal(1.0))


class _Run(NamedTuple):
    """A run of slips at the nut against a far side of one stiffness."""

    far_n_m: float
    gain_n_m: float
    """Speaking tension per winding."""
    growth: float
    """Logarithm by which one slip multiplies the speaking tension; 0 = slides."""


class _Way(NamedTuple):
    """One direction of winding: ratios as they hold in this direction, and the two runs."""

    friction: Friction
    sense: int
    nut_static: float
    nut_kinetic: float
    saddle_static: float
    saddle_kinetic: float
    stuck: _Run
    """The saddle holds."""
    sliding: _Run
    """The saddle slides along, without jumps."""


def capstan(coefficient: float, wrap_deg: float) -> float:
    """Return the tension ratio at which a string slips over a bend: ``exp(mu wrap)``."""
    return math.exp(coefficient * math.radians(wrap_deg))


def friction(nut: Nut, ea_n: float, speaking_m: float, total_m: float) -> Friction | None:
    """Return nut and saddle with a string of axial stiffness ``ea_n`` on them, None where it slides freely.

    Raises ``ValueError`` when the lengths leave nothing between nut and post.
    """
    after_m = nut.after_mm * 1e-3
    behind_m = total_m - speaking_m - after_m
    if behind_m <= 0.0:
        raise ValueError(
            f"no string is left between nut and post: {total_m * 1e3:.0f} mm in all, {speaking_m * 1e3:.0f} mm speaking, "
            f"{nut.after_mm:.0f} mm behind the saddle"
        )
    wraps = ((nut.friction, nut.wrap_deg), (nut.saddle_friction, nut.saddle_wrap_deg if after_m else 0.0))
    (nut_static, nut_kinetic), (saddle_static, saddle_kinetic) = (
        (capstan(static, wrap), capstan(static * nut.kinetic_share, wrap)) for static, wrap in wraps
    )
    if nut_static == saddle_static == 1.0:
        return None
    after_n_m = ea_n / after_m if after_m else 0.0
    stiffness = (ea_n / behind_m, ea_n / speaking_m, after_n_m)
    return Friction(*stiffness, nut_static, nut_kinetic, saddle_static, saddle_kinetic)


def equal(tension_n: float) -> Tensions:
    """Return a string with the same tension everywhere."""
    return Tensions(tension_n, tension_n, tension_n)


def relaxed(tensions: Tensions, friction: Friction, share: float) -> Tensions:
    """Return the tensions after a pluck: the logarithm of each ratio shrinks by ``share``, the winding stays."""
    behind, speaking, after = tensions
    if speaking <= SLACK_N:
        return tensions
    ratios = Tensions((behind / speaking) ** (1.0 - share), 1.0, (after / speaking) ** (1.0 - share))
    speaking = friction.stretch_m(tensions) / friction.stretch_m(ratios)
    return Tensions(ratios.behind_n * speaking, speaking, ratios.after_n * speaking)


def room_m(tensions: Tensions, friction: Friction, direction: int) -> float:
    """Return the winding in ``direction`` (+1 tightening) until the nut slips; 0 when it slides, or the string is slack."""
    if tensions.speaking_n <= SLACK_N:
        return 0.0
    slips_n = friction.nut_static**direction * tensions.speaking_n
    return max(0.0, direction * (slips_n - tensions.behind_n) / friction.behind_n_m)


def wind(tensions: Tensions, winding_m: float, friction: Friction) -> Tensions:
    """Return the tensions after the post took ``winding_m`` up (below 0: gave it out), one way."""
    sense = 1 if winding_m > 0.0 else -1
    behind, speaking, after = tensions
    held = behind + friction.behind_n_m * winding_m
    if speaking > SLACK_N and sense * (friction.nut_static**sense * speaking - held) >= 0.0:
        return Tensions(held, speaking, after)
    way = _way(friction, sense)
    while winding_m * sense > 0.0:
        if sense * (tensions.speaking_n - SLACK_N) < 0.0 or tensions.speaking_n < SLACK_N or _rests(tensions, sense):
            tensions, winding_m = _slack(tensions, winding_m, way)
        else:
            tensions, winding_m = _gripped(tensions, winding_m, way)
    return tensions
