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

from models.component import Share, component
from models.strings.tension import SLACK_N

TOUCHING: Final = 1e-12  # relative distance from a threshold that counts as on it
LEAST_M: Final = 1e-15  # a rest of winding below this is rounding: it may be too little to change any tension


@component
class Nut:
    """The grooves that the string runs through: nut, and saddle where the string goes on behind it.

    Law: a groove holds while ``1/rs < T1/T2 < rs`` with ``rs = exp(mu wrap)``; at the threshold the string slips until
    the ratio is ``rk = exp(mu kinetic_share wrap)``. A pluck takes ``relaxation_share`` of ``ln(T1/T2)`` away. Between
    nut and post lies what the speaking length and ``after_mm`` leave of the total length.

    Fails when: a wound string catches in the groove turn by turn, the groove pinches, or a pluck is unusually hard.

    Source: capstan equation (Groves & Kemp, Archives of Acoustics 2019); the values of each part say theirs.
    """

    friction: Annotated[float, Field(ge=0, le=1)]
    """Static friction of the string in the nut. From the degrees to the first change of pitch after reversal."""

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


class Line(NamedTuple):
    """What winding does to the tension behind the nut, up to the next event."""

    newton_per_m: float
    """While slips follow each other, from the beginning of one to that of the next."""
    room_m: float
    """0 where a slip by a jump is due."""
    holds: bool
    """Whether the nut holds meanwhile."""
    jump_n: float = 0.0
    """What the slip that is due does to that tension."""


class _Run(NamedTuple):
    """Slips at the nut in a row, one way, against a far side of one stiffness."""

    far_n_m: float
    gain_n_m: float
    """Speaking tension per winding."""
    growth: float
    """Logarithm of what one slip multiplies the speaking tension by; 0 = slides."""


class _Way(NamedTuple):
    """One direction of winding: ratios as they hold in it, and both kinds of runs."""

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
            f"no string is left between nut and post: {total_m * 1e3:.0f} mm in all, "
            f"{speaking_m * 1e3:.0f} mm speaking, {nut.after_mm:.0f} mm behind the saddle"
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


def stiffened(friction: Friction, factor: float) -> Friction:
    """Return the same grooves with a string that is so many times stiffer."""
    behind, speaking, after = (factor * friction[place] for place in range(3))
    return friction._replace(behind_n_m=behind, speaking_n_m=speaking, after_n_m=after)


def equal(tension_n: float) -> Tensions:
    """Return a string with the same tension everywhere."""
    return Tensions(tension_n, tension_n, tension_n)


def relaxed(tensions: Tensions, friction: Friction, share: float) -> Tensions:
    """Return the tensions after a pluck: the logarithm of each ratio shrinks by ``share``, the winding stays."""
    behind, speaking, after = tensions
    if speaking <= SLACK_N:
        return tensions
    after_ratio = (after / speaking) ** (1.0 - share) if friction.after_n_m else 1.0
    ratios = Tensions((behind / speaking) ** (1.0 - share), 1.0, after_ratio)
    speaking = friction.stretch_m(tensions) / friction.stretch_m(ratios)
    return Tensions(ratios.behind_n * speaking, speaking, ratios.after_n * speaking)


def room_m(tensions: Tensions, friction: Friction, direction: int) -> float:
    """Return the winding in ``direction`` (+1 tightening) until the nut slips; 0 when it slides or is slack."""
    if tensions.speaking_n < SLACK_N:
        return 0.0
    slips_n = friction.nut_static**direction * tensions.speaking_n
    return max(0.0, direction * (slips_n - tensions.behind_n) / friction.behind_n_m)


def line(tensions: Tensions, friction: Friction, direction: int) -> Line:
    """Return how the tension behind the nut goes on with winding in ``direction`` (+1 tightening)."""
    behind_n, speaking_n, after_n = tensions
    if _is_slack(speaking_n, direction):
        whole_n_m = friction.whole_n_m()
        return Line(whole_n_m, (SLACK_N - speaking_n) / whole_n_m if direction > 0 else math.inf, False)
    room = room_m(tensions, friction, direction)
    if room * friction.behind_n_m > TOUCHING * behind_n:
        return Line(friction.behind_n_m, room, True)
    way = _way(friction, direction)
    run = way.sliding if _saddle_slides(speaking_n, after_n, way) else way.stuck
    newton_per_m = way.nut_static * run.gain_n_m * math.exp(-run.growth)
    if run.growth:
        slipped = way.nut_kinetic * math.exp(run.growth)
        return Line(newton_per_m, 0.0, False, (slipped - way.nut_static) * speaking_n)
    room = direction * (_limit_n(after_n, run, way) - speaking_n) / run.gain_n_m
    return Line(newton_per_m, max(0.0, room), False)


def slips_m(tensions: Tensions, friction: Friction, direction: int, most_m: float) -> float:
    """Return the winding from a slip that is due to the beginning of the last one within ``most_m`` (0 or more).

    Slip ``n`` begins at ``g Ts (g^n - 1) / gain`` while the saddle holds; 0 when the next one is already too far.
    """
    speaking_n, way = tensions.speaking_n, _way(friction, direction)
    run = way.sliding if _saddle_slides(speaking_n, tensions.after_n, way) else way.stuck
    per_share_m = speaking_n * math.exp(run.growth) / run.gain_n_m
    share, limit_n = direction * most_m / per_share_m, _limit_n(tensions.after_n, run, way)
    within = math.log1p(share) / run.growth if -1.0 < share < math.inf else math.inf
    allowed = math.log(limit_n / speaking_n) / run.growth - 1.0 if limit_n < math.inf else math.inf
    number = max(0, math.floor(min(within, allowed) - TOUCHING))
    return per_share_m * abs(math.expm1(number * run.growth))


def mirrored(friction: Friction) -> Friction:
    """Return the same string seen from its other end: wound from behind the saddle.

    Raises ``ValueError`` where it ends at the saddle.
    """
    if friction.after_n_m == 0.0:
        raise ValueError("the head pulls the string behind the saddle; allowed: above 0, or grooves without friction")
    behind, speaking, after, *nut_and_saddle = friction
    return Friction(after, speaking, behind, *nut_and_saddle[2:], *nut_and_saddle[:2])


def slip_ratio(friction: Friction) -> float:
    """Return what one slip of the nut multiplies the speaking tension by while tightening; 1 = it slides.

    ``1 + ks (rs - rk) / (kh + rk ks)``: no motor, however fine, makes a smaller step. The saddle holds meanwhile.
    """
    return math.exp(_way(friction, 1).stuck.growth)


def reversal_m(friction: Friction, speaking_n: float) -> float:
    """Return the winding that is lost when the direction changes: from one threshold of the nut to the other."""
    return speaking_n * (friction.nut_static - 1.0 / friction.nut_static) / friction.behind_n_m


def wind(tensions: Tensions, winding_m: float, friction: Friction) -> Tensions:
    """Return the tensions after the post took ``winding_m`` up (below 0: gave it out), one way."""
    sense = 1 if winding_m > 0.0 else -1
    behind, speaking, after = tensions
    held = behind + friction.behind_n_m * winding_m
    if speaking > SLACK_N and sense * (friction.nut_static**sense * speaking - held) >= 0.0:
        return Tensions(held, speaking, after)
    way = _way(friction, sense)
    while winding_m * sense > LEAST_M:
        step = _slack if _is_slack(tensions.speaking_n, sense) else _gripped
        tensions, winding_m = step(tensions, winding_m, way)
    return tensions


@lru_cache(maxsize=256)
def _way(friction: Friction, sense: int) -> _Way:
    ratios = [ratio**sense for ratio in friction[3:]]
    along = friction.after_n_m * ratios[2]
    series = friction.speaking_n_m * along / (friction.speaking_n_m + along)
    stuck, sliding = (_run(friction.behind_n_m, far, ratios[0], ratios[1]) for far in (friction.speaking_n_m, series))
    return _Way(friction, sense, ratios[0], ratios[1], ratios[2], ratios[3], stuck, sliding)


def _run(behind_n_m: float, far_n_m: float, static: float, kinetic: float) -> _Run:
    shared = behind_n_m + kinetic * far_n_m
    return _Run(far_n_m, behind_n_m * far_n_m / shared, math.log1p(far_n_m * (static - kinetic) / shared))


def _is_slack(speaking_n: float, sense: int) -> bool:
    """Return whether the string is slack, or becomes so at once."""
    return speaking_n < SLACK_N or (sense < 0 and speaking_n < SLACK_N * (1.0 + TOUCHING))


def _slack(tensions: Tensions, winding_m: float, way: _Way) -> tuple[Tensions, float]:
    """Wind a string without friction up to where the grooves begin to hold; return what winding is left."""
    now_n, whole_n_m = _evened(tensions, way.friction).speaking_n, way.friction.whole_n_m()
    to_grip_m = (SLACK_N - now_n) / whole_n_m
    if winding_m < to_grip_m:
        return equal(now_n + whole_n_m * winding_m), 0.0
    return equal(SLACK_N), winding_m - to_grip_m


def _gripped(tensions: Tensions, winding_m: float, way: _Way) -> tuple[Tensions, float]:
    """Wind up to the next slip of the nut, let it slip until the saddle does; return what winding is left."""
    behind, speaking, after = tensions
    held, slips_n = behind + way.friction.behind_n_m * winding_m, way.nut_static * speaking
    if way.sense * (slips_n - held) >= 0.0:
        return Tensions(held, speaking, after), 0.0
    if way.sense * (slips_n - behind) > 0.0:
        winding_m -= (slips_n - behind) / way.friction.behind_n_m
        behind = slips_n
    run = way.sliding if _saddle_slides(speaking, after, way) else way.stuck
    slip_m = (behind - way.nut_kinetic * speaking) / (way.friction.behind_n_m + way.nut_kinetic * run.far_n_m)
    first_n = speaking + run.far_n_m * slip_m
    last_n = _last_n(first_n, winding_m, run, _limit_n(after, run, way), way.sense)
    return _let_go(last_n, after, run, way), winding_m - (last_n - first_n) / run.gain_n_m


def _saddle_slides(speaking_n: float, after_n: float, way: _Way) -> bool:
    """Return whether the saddle gives way whenever the nut does."""
    smooth = way.friction.after_n_m > 0.0 and way.saddle_static == way.saddle_kinetic
    return smooth and way.sense * (speaking_n - way.saddle_static * after_n) >= -TOUCHING * speaking_n


def _limit_n(after_n: float, run: _Run, way: _Way) -> float:
    """Return the speaking tension that ends a run: the saddle lets go, or the string is slack."""
    free = run is way.sliding or way.friction.after_n_m == 0.0
    if way.sense > 0:
        return math.inf if free else way.saddle_static * after_n
    return SLACK_N if free else max(SLACK_N, way.saddle_static * after_n)


def _last_n(first_n: float, winding_m: float, run: _Run, limit_n: float, sense: int) -> float:
    """Return the speaking tension at the end of a run that begins at ``first_n``: slips are a geometric series."""
    if sense * (first_n - limit_n) >= 0.0:
        return first_n
    share = run.gain_n_m * winding_m / first_n
    if run.growth == 0.0:
        return sense * min(sense * first_n * (1.0 + share), sense * limit_n)
    wound = math.floor(math.log1p(share) / run.growth) if share > -1.0 else math.inf
    allowed = math.ceil(math.log(limit_n / first_n) / run.growth) if limit_n < math.inf else math.inf
    return first_n * math.exp(min(wound, allowed) * run.growth)


def _let_go(speaking_n: float, after_n: float, run: _Run, way: _Way) -> Tensions:
    """Return the tensions after the nut has slipped, and the saddle if that was too much for it."""
    behind_n, friction = way.nut_kinetic * speaking_n, way.friction
    if friction.after_n_m == 0.0:
        after_n = speaking_n
    elif run is way.sliding:
        after_n = speaking_n / way.saddle_static
    elif way.sense * (speaking_n - way.saddle_static * after_n) >= -TOUCHING * speaking_n:
        stiffness_n_m = friction.speaking_n_m + way.saddle_kinetic * friction.after_n_m
        slip_m = (speaking_n - way.saddle_kinetic * after_n) / stiffness_n_m
        speaking_n, after_n = speaking_n - friction.speaking_n_m * slip_m, after_n + friction.after_n_m * slip_m
    tensions = Tensions(behind_n, speaking_n, after_n)
    return _evened(tensions, friction) if _is_slack(speaking_n, way.sense) else tensions


def _evened(tensions: Tensions, friction: Friction) -> Tensions:
    """Return the tensions after the string slid until they are equal."""
    return equal(friction.stretch_m(tensions) * friction.whole_n_m())
