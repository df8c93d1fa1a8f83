"""What theory claims of a law in a loop, kind by kind."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

from controllers.belief import turn_to_target_deg
from controllers.theory import (
    critical_gain,
    fastest_gain,
    fastest_sure_spin,
    halving_readings,
    largest_sure_step,
    limit_cycle,
    moves_to_rest,
    relay_moves,
    residual,
)
from controllers.theory_belief import error_factor, secant_moves, shrinking_moves
from controllers.theory_linear import critical_gain_with_integral, most_integral, open_loop
from controllers.theory_play import empty_moves, halving_error, play_hunting
from sim.design.theory_loop import Loop

Moves = Callable[[float], float]
"""From an error to moves, or to a move in cents."""
Law = Callable[[Any, Loop], "Claim"]


class Cycle(NamedTuple):
    """A hunt that goes on for ever."""

    swing_cents: float
    """Peak to peak."""
    readings: float
    """Period."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What theory says of one law in one loop, at the middle slope."""

    key: str
    """The law's parameter that is judged; it acts in proportion to the slope."""
    goes: float
    """What it comes to: a loop gain, or a step in cents, or a speed in cents per second."""
    unit: str
    most: float
    """The largest such that the law is sure to come to rest."""
    best: float
    """What theory would take: the fastest that neither crosses nor hunts."""
    moves: Moves
    """From an error at the start to the moves until the law rests: inf where it never does, nan where it is open."""
    rests_cents: float
    """Largest error at which the law rests, once it does."""
    empty: int
    """Moves that a change of direction wastes."""
    beyond: Cycle | None
    """How it hunts where ``goes`` exceeds ``most``."""
    hunts: Cycle | None = None
    """How it hunts even below, where something is lost at each change of direction."""
    controller: tuple[tuple[float, ...], tuple[float, ...]] | None = None
    """Numerator and denominator in ``z`` from reading to pitch, delay left out; None for a law that is not linear."""
    also: Mapping[str, float] = field(default_factory=dict)
    """Further numbers of this kind, units in the names."""


def bang_bang(law: Any, loop: Loop) -> Claim:
    """Return the claim of fixed steps."""
    step = law.step_deg * loop.slopes.middle

    def moves(start: float) -> float:
        return relay_moves(straight(start), loop.band_cents, step, loop.decisions)

    return _relay("step_deg", step, loop, moves)


def two_step(law: Any, loop: Loop) -> Claim:
    """Return the claim of a large and a small step; the small one is judged."""
    large, small = (turn * loop.slopes.middle for turn in (law.large_step_deg, law.small_step_deg))
    sure = largest_sure_step(law.near_cents, loop.decisions)

    def moves(start: float) -> float:
        return _rest(start, loop, lambda read: math.copysign(large if abs(read) > law.near_cents else small, read))

    also = {"large_step_cents": large, "largest_sure_large_step_cents": sure}
    return _relay("small_step_deg", small, loop, moves, also)


def halving(law: Any, loop: Loop) -> Claim:
    """Return the claim of step halving; its least step is judged."""
    first, least = (turn * loop.slopes.middle for turn in (law.first_step_deg, law.least_step_deg))
    every = law.when == "every reading"

    def moves(start: float) -> float:
        return _rest(start, loop, _halved(first, least, every))

    also = {"readings_at_most": float(halving_readings(first, loop.band_cents))} if loop.band_cents else {}
    stray = {"ends_off_cents": halving_error(loop.lost_cents, least)} if every else {}
    return _relay("least_step_deg", least, loop, moves, {"first_step_cents": first, **also, **stray})


def straight(cents: float) -> float:
    """Return an error on the scale on which equal turns are equal steps, as they are in cents at the target."""
    return -turn_to_target_deg(cents, 1.0)


def _rest(start: float, loop: Loop, move: Moves) -> float:
    return moves_to_rest(straight(start), loop.band_cents, loop.decisions, move)


def _halved(step: float, least: float, every: bool) -> Moves:
    """Return a law of step halving that has not moved yet: from a reading to a move, both in cents."""
    side = 0.0

    def move(read: float) -> float:
        nonlocal step, side
        now = math.copysign(1.0, read)
        step = max(least, step / 2.0) if side and (every or now != side) else step
        side = now
        return now * step

    return move


def _relay(key: str, step: float, loop: Loop, moves: Moves, also: Mapping[str, float] | None = None) -> Claim:
    most = largest_sure_step(loop.band_cents, loop.decisions)
    beyond = Cycle(*limit_cycle(step, loop.decisions))
    empty = empty_moves(loop.lost_cents, step)
    return Claim(key, step, "cents", most, most, moves, loop.band_cents, empty, beyond, also=also or {})


def bang_bang_spin(law: Any, loop: Loop) -> Claim:
    """Return the claim of a fixed speed; a move is the turn of one hop."""
    speed = law.spin_deg_s * loop.slopes.middle
    most = fastest_sure_spin(loop.band_cents, loop.latency_s, loop.sample_s)
    hop = speed * loop.sample_s

    def moves(start: float) -> float:
        away = max(0.0, abs(straight(start)) - loop.band_cents)
        return math.inf if speed > most else math.ceil(away / hop) + (loop.decisions if away else 0)

    beyond = Cycle(*limit_cycle(hop, loop.decisions))
    empty = empty_moves(loop.lost_cents, hop)
    return Claim("spin_deg_s", speed, "cents/s", most, most, moves, loop.band_cents, empty, beyond)


def proportional(law: Any, loop: Loop) -> Claim:
    """Return the claim of a turn in proportion."""
    return _gain("gain_deg_per_cent", law.gain_deg_per_cent * loop.slopes.middle, loop)


def proportional_spin(law: Any, loop: Loop) -> Claim:
    """Return the claim of a speed in proportion: a turn in proportion at each hop."""
    return _gain("gain_deg_s_per_cent", law.gain_deg_s_per_cent * loop.slopes.middle * loop.sample_s, loop)


def proportional_integral(law: Any, loop: Loop) -> Claim:
    """Return the claim of proportional-integral; its proportional gain is judged with the integral in proportion."""
    gain, integral = (each * loop.slopes.middle for each in (law.gain_deg_per_cent, law.integral_deg_per_cent))
    most = critical_gain_with_integral(integral / gain, loop.decisions)
    hunts = _hunting(gain, integral, loop)
    also = {"integral_loop_gain": integral, "largest_integral_loop_gain": most_integral(gain)}
    return _gain("gain_deg_per_cent", gain, loop, most, integral, hunts, also)


def _hunting(gain: float, integral: float, loop: Loop) -> Cycle | None:
    """Return the hunt over lost motion; none where the band is at least half of it, nor where the loop is unstable."""
    stable = 0.0 < gain < 2.0 and 0.0 < integral < most_integral(gain) and loop.decisions == 0
    if not stable or loop.band_cents >= loop.lost_cents / 2.0:
        return None
    plays, readings = play_hunting(gain, integral)
    return Cycle(plays * loop.lost_cents, readings)


def inverse(law: Any, loop: Loop) -> Claim:
    """Return the claim of the model inverse: its loop gain is the true slope over the believed one."""
    ratio = loop.slopes.middle / law.believed_cents_per_deg
    factors = {
        "error_factor_low": error_factor(loop.slopes.low / law.believed_cents_per_deg),
        "error_factor_high": error_factor(loop.slopes.high / law.believed_cents_per_deg),
    }

    def moves(start: float) -> float:
        if loop.decisions:
            return moves_to_rest(start, loop.band_cents, loop.decisions, _in_proportion(ratio))
        return shrinking_moves(start, loop.band_cents, error_factor(ratio))

    return _judged("believed_cents_per_deg", ratio, loop, critical_gain(loop.decisions), moves, also=factors)


def secant(law: Any, loop: Loop) -> Claim:
    """Return the claim of the secant: its first move is judged, the next ones follow what it has learnt.

    Read late, it puts a change down to the wrong turn: theory cannot tell then.
    """
    first = law.first_gain * loop.slopes.middle / law.believed_cents_per_deg
    most = critical_gain(0) if loop.decisions == 0 else 0.0
    also = {"learns_from_cents": 5.0 * math.sqrt(2.0) * law.believed_spread_cents}

    def moves(start: float) -> float:
        return secant_moves(start, loop.band_cents, abs(1.0 - first)) if most else math.nan

    return _judged("first_gain", first, loop, most, moves, also=also)


def _in_proportion(gain: float, integral: float = 0.0) -> Moves:
    """Return a law that moves by the reading and by the sum of readings so far."""
    total = 0.0

    def move(read: float) -> float:
        nonlocal total
        total += read
        return gain * read + integral * total

    return move


def _gain(
    key: str, gain: float, loop: Loop, most: float | None = None, integral: float = 0.0,
    hunts: Cycle | None = None, also: Mapping[str, float] | None = None,
) -> Claim:  # fmt: skip
    def moves(start: float) -> float:
        return moves_to_rest(start, loop.band_cents, loop.decisions, _in_proportion(gain, integral))

    limit = critical_gain(loop.decisions) if most is None else most
    return _judged(key, gain, loop, limit, moves, hunts, integral, also)


def _judged(
    key: str, gain: float, loop: Loop, most: float, moves: Moves, hunts: Cycle | None = None,
    integral: float = 0.0, also: Mapping[str, float] | None = None,
) -> Claim:  # fmt: skip
    return Claim(
        key, gain, "loop gain", most, min(most / 2.0, fastest_gain(loop.decisions)), moves,
        rests_cents=max(loop.band_cents, residual(loop.motor_step_cents, gain)),
        empty=empty_moves(loop.lost_cents, gain * loop.band_cents) if loop.band_cents else 0,
        beyond=Cycle(*limit_cycle(loop.largest_cents, loop.decisions)),
        hunts=hunts, controller=open_loop(gain, integral), also=also or {},
    )  # fmt: skip


THEORIES: Final[Mapping[str, Law]] = {
    "bang-bang": bang_bang,
    "bang-bang-spin": bang_bang_spin,
    "two-step": two_step,
    "halving": halving,
    "proportional": proportional,
    "proportional-spin": proportional_spin,
    "proportional-integral": proportional_integral,
    "inverse": inverse,
    "secant": secant,
    "cautious-secant": secant,
}
"""What theory claims, by kind of controller. A kind without an entry has no theory here."""
