"""Limits of guards, derived from a rig by stated rules: above what a sound machine does, below what breaks a string.

What the rig file gives stands in place of what is derived.

Current limits lie at the geometric mean of what the highest healthy tension and the breaking tension ask for: as many
times above the one as below the other.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from controllers.guards import GUARDS
from controllers.guards.base import Guard
from models.component import resolve
from models.drivetrain import Chain
from models.messages import Load, Piece, Source, Turn
from models.motors.base import Motor, current_a
from models.units import shifted
from scenarios.errors import shown
from scenarios.schema import Part, Range, Scenario, Strategy
from sim.build import Rig, build

MARGIN_CENTS: Final = 100.0  # beyond the range of starts that readings may lie (estimate: noise and overshoot)
CEILING_CENTS: Final = 150.0  # above the highest of target and starts
RESERVE_SHARE: Final = 0.5  # of the reserve that a ceiling may take
BUDGET_FACTOR: Final = 1.5  # times the way from the lowest to the highest start
LARGER: Final = 1.1  # than the largest turn that a strategy gives
SILENT_READINGS: Final = 6  # missed in a row, at the player's slowest
REJECTED: Final = 3
NEARLY: Final = 0.98  # of the torque against which a resting motor begins to turn
MOVE_S: Final = 10.0  # a large move with its re-grips (estimate)
LEAST_CENTS: Final = 15.0  # change that an ear tells from its own spread (estimate)
SHORTEST_S: Final = 0.01  # that a current must last to count (estimate: a filter against brushes and switching)
OUTLASTS: Final = 1.5  # times the surge of a start against the highest healthy torque (estimate)
LEAST_VOLTAGE_SHARE: Final = 0.9  # of the voltage of a sound supply near the motor's stall


Derived = dict[str, tuple[dict[str, Any], str]]
"""By guard: its parameters and their rule."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A guard with its parameters, and how they follow from the rig."""

    guard: Guard
    rule: str


def default_guards(scenario: Scenario, strategy: Strategy, string: str) -> dict[str, Guard]:
    """Return every guard that a rig can have on a string, its limits derived; without those whose sensor it lacks."""
    return {name: limit.guard for name, limit in limits(scenario, strategy, string).items()}


def limits(scenario: Scenario, strategy: Strategy, string: str) -> dict[str, Limit]:
    """Return every guard that a rig can have on a string with the rule that gave its numbers.

    Of two guards of one kind in the rig file the last one counts.
    """
    given = {kind_of(part): part.values for part in scenario.guards.values()}
    found = derived(scenario, strategy, string)
    return {kind: _limit(kind, found[kind], given.get(kind, {})) for kind in found}


def named_guards(scenario: Scenario, strategy: Strategy, string: str) -> dict[str, Guard]:
    """Return the guards of the rig file on a string by the names that it gives them.

    Raises ``ValueError`` for a kind that the rig cannot have there (see ``sim.design.guard_refusals``).
    """
    found = derived(scenario, strategy, string) if scenario.guards else {}
    kinds = {name: kind_of(part) for name, part in scenario.guards.items()}
    if without := [f"guards.{name}: {string} cannot have {kind}" for name, kind in kinds.items() if kind not in found]:
        raise ValueError("; ".join(without))
    return {name: _limit(kind, found[kind], scenario.guards[name].values).guard for name, kind in kinds.items()}


def why_absent(kind: str) -> str:
    """Return why a rig cannot have a kind of guard that is not among its ``derived``."""
    if kind == "pitch-ceiling":
        return "the string breaks below its target"
    return "the motor has no current, or none that tells a breaking string from a sound one"


def kind_of(part: Part) -> str:
    """Return the kind of a guard of the rig file, as ``GUARDS`` lists it."""
    place = f"{part.kind.__module__}:{part.kind.__name__}"
    return next(kind for kind, known in GUARDS.items() if known == place)


def _limit(kind: str, derived: tuple[dict[str, Any], str], given: Mapping[str, Any]) -> Limit:
    values, rule = derived
    if not given:
        return Limit(resolve(GUARDS, kind)(**values), rule)
    told = ", ".join(f"{key} = {shown(value)}" for key, value in given.items())
    rest = "" if set(values) <= set(given) else f"; else {rule}"
    return Limit(resolve(GUARDS, kind)(**{**values, **given}), f"{told}: given in the rig file{rest}")


def derived(scenario: Scenario, strategy: Strategy, string: str) -> Derived:
    """Return the parameters of every guard that a rig can have on a string, and their rules, as the rig gives them."""
    rig, driving = build(scenario, string), strategy.drivings[string].nominal()
    low, high = starts(scenario)
    by_name = {
        **_of_turns(rig.chain, driving.largest_move_deg, low, high),
        **_of_readings(rig.chain, low, high),
        **_of_time(scenario, rig),
        "power-up": ({}, "no number: armed by the first reading"),
        **_of_current(rig, high),
    }
    return {kind: by_name[kind] for kind in GUARDS if kind in by_name}


def _slope(chain: Chain) -> float:
    return chain.cents_per_knob_deg(chain.string.tension_at_hz(chain.string.target_hz))


def _lost_deg(chain: Chain) -> float:
    """Return what slop and the nut take of a change of direction."""
    return 2.0 * chain.half_slop_deg + chain.reversal_deg(chain.string.tension_at_hz(chain.string.target_hz))


def _seen(low: float, high: float) -> tuple[float, float]:
    """Return between what errors a reading makes sense."""
    return low - MARGIN_CENTS, max(high, 0.0) + MARGIN_CENTS


def _of_turns(chain: Chain, largest_deg: float, low: float, high: float) -> Derived:
    way_deg = (high - min(low, 0.0)) / _slope(chain) + _lost_deg(chain)
    least, most = _seen(low, high)
    spent = {
        "most_deg": BUDGET_FACTOR * way_deg, "cents_per_deg": _slope(chain), "low_cents": least, "high_cents": most
    }  # fmt: skip
    return {
        "largest-turn": (
            {"most_deg": LARGER * largest_deg},
            f"{LARGER:g} times the strategy's largest move of {largest_deg:g} deg",
        ),
        "tightening-budget": (
            spent,
            f"{BUDGET_FACTOR:g} times the way from {min(low, 0.0):g} to {high:g} cents and slop, {way_deg:.0f} deg",
        ),
        "hand-switch": (
            {"most_deg": max(2.0 * largest_deg, 360.0)},
            "twice the largest move, a whole turn at least",
        ),
    }


def _of_readings(chain: Chain, low: float, high: float) -> Derived:
    reserve, slope, (least, most) = chain.string.reserve_cents(), _slope(chain), _seen(low, high)
    answers = {"cents_per_deg": slope, "least_cents": max(LEAST_CENTS, 2.0 * _lost_deg(chain) * slope)}
    rule = f"{slope:.2f} cents a degree at the target; twice the slop does not count"
    most_cents = min(max(high, 0.0) + CEILING_CENTS, RESERVE_SHARE * reserve)
    ceiling = (
        {"most_cents": most_cents},
        f"{CEILING_CENTS:g} above every start, at most half the reserve of {reserve:.0f}",
    )
    return {
        **({"pitch-ceiling": ceiling} if most_cents > 0.0 else {}),
        "no-response": (answers, rule),
        "wrong-direction": (answers, rule),
        "rejected-readings": (
            {"low_cents": least, "high_cents": most, "in_a_row": REJECTED},
            f"{REJECTED} in a row outside {least:g} to {most:g} cents: the starts and {MARGIN_CENTS:g} more",
        ),
    }


def _of_time(scenario: Scenario, rig: Rig) -> Derived:
    ear = rig.ear
    round_s = rig.player.pluck_time_s(3.0) + ear.skip_s + ear.window_s + ear.computing_s + ear.link_s + MOVE_S
    silent_s = SILENT_READINGS * round_s
    return {
        "silence": (
            {"most_silent_s": silent_s, "most_s": scenario.task.time_limit_s},
            f"{SILENT_READINGS} rounds of pluck, move and reading at the slowest; the task's own limit",
        )
    }


def _of_current(rig: Rig, high: float) -> Derived:
    motor, source = rig.machine.motor, rig.machine.supply.source(0.0)
    current = currents_a(rig, high)
    if current is None:
        return {}
    surging_s = surge_s(motor, source, healthy_nm(rig.chain, high), current[1])
    hold_s = max(SHORTEST_S, OUTLASTS * surging_s)
    stall_a = steady_a(motor, source, NEARLY * motor.starting_torque_nm(source))
    least_v = LEAST_VOLTAGE_SHARE * (source.voltage_v - source.resistance_ohm * stall_a)
    return {
        "motor-current": (
            {"most_a": current[1], "hold_s": hold_s},
            f"between {current[0]:.3f} A at the highest healthy pitch and {current[2]:.3f} A at breaking or stall; "
            f"to last {hold_s:.3f} s, {OUTLASTS:g} times as long as a start and {SHORTEST_S:g} s at least",
        ),
        "supply-voltage": ({"least_v": least_v}, f"{LEAST_VOLTAGE_SHARE:g} of a sound supply's near the stall"),
    }


def currents_a(rig: Rig, high_cents: float) -> tuple[float, float, float] | None:
    """Return ``between_a`` of a string that starts no higher than ``high_cents``."""
    chain, machine = rig.chain, rig.machine
    breaking_nm = chain.turning_nm(chain.string.breaking_n, 1)
    return between_a(machine.motor, machine.supply.source(0.0), healthy_nm(chain, high_cents), breaking_nm)


def breaking_a(scenario: Scenario, string: str) -> float:
    """Return the motor's current as a string breaks, or near its stall if that is lower; infinite without a current."""
    current = currents_a(build(scenario, string), starts(scenario)[1])
    return math.inf if current is None else current[2]


def healthy_nm(chain: Chain, high_cents: float) -> float:
    """Return the torque at the knob that the highest healthy pitch asks for, the string about to slip in the nut."""
    highest_hz = shifted(chain.string.target_hz, max(high_cents, 0.0) + MARGIN_CENTS)
    grip = chain.friction.nut_static if chain.friction else 1.0
    return chain.turning_nm(grip * chain.string.tension_at_hz(highest_hz), 1)


def starts(scenario: Scenario) -> tuple[float, float]:
    """Return the lowest and the highest pitch error with which a tuning begins."""
    value = scenario.setting.values["start_cents"]
    if isinstance(value, Range):
        return value.low, value.high
    assert isinstance(value, int | float)
    return float(value), float(value)


def between_a(motor: Motor, source: Source, healthy_nm: float, breaking_nm: float) -> tuple[float, float, float] | None:
    """Return the current at the highest healthy torque, the limit, and that at breaking, or near the stall if lower.

    None for a motor without current, or one that stalls before the highest healthy pitch.
    """
    stall_nm = motor.stall_torque_nm(source)
    if not healthy_nm < stall_nm < math.inf:
        return None
    most_nm = NEARLY * motor.starting_torque_nm(source)
    low_a = steady_a(motor, source, min(healthy_nm, most_nm))
    high_a = steady_a(motor, source, min(breaking_nm, most_nm))
    return (low_a, math.sqrt(low_a * high_a), high_a) if 0.0 < low_a < high_a else None


def steady_a(motor: Motor, source: Source, torque_nm: float) -> float:
    """Return the current of a turn against a torque, its start over."""
    piece = _turning(motor, source, torque_nm)
    return 0.0 if piece is None else current_a(piece, 0.9 * piece.duration_s)


def surge_s(motor: Motor, source: Source, torque_nm: float, limit_a: float) -> float:
    """Return how long the current of a start against a torque stays above a limit that the steady current is below.

    Law: ``surge exp(-rate t) = limit - steady``.
    """
    piece = _turning(motor, source, torque_nm)
    if piece is None or piece.rate_per_s == 0.0:
        return 0.0
    left_a = limit_a - (current_a(piece, 0.0) - piece.surge_a)
    return max(0.0, math.log(piece.surge_a / left_a) / piece.rate_per_s) if piece.surge_a > 0.0 < left_a else 0.0


def _turning(motor: Motor, source: Source, torque_nm: float) -> Piece | None:
    """Return the longest piece of a long turn from rest against a torque."""
    turn = Turn(0.9 * min(motor.stroke_deg(), 400.0))
    shaft = motor.aim(turn, motor.rest())
    motion = motor.plan(turn, shaft, lambda direction: Load(torque_nm, 0.0, math.inf), source)
    return max(motion.pieces, key=lambda piece: piece.duration_s, default=None)
