"""Limits of guards, derived from a rig by stated rules: above what a sound machine does, below what breaks a string.

Current limits lie at the geometric mean of what the highest healthy tension and the breaking tension ask for: as many
times above the one as below the other.
"""

import math
from dataclasses import dataclass
from typing import Any, Final

from controllers.guards import GUARDS
from controllers.guards.base import Guard
from models.component import resolve
from models.drivetrain import Chain
from models.messages import Load, Source, Turn
from models.motors.base import Motor, current_a
from models.units import shifted
from scenarios.schema import Range, Scenario, Strategy
from sim.build import build

MARGIN_CENTS: Final = 100.0  # beyond the range of starts that readings may lie (estimate: noise and overshoot)
CEILING_CENTS: Final = 150.0  # above the highest of target and starts
RESERVE_SHARE: Final = 0.5  # of the reserve that a ceiling may take
BUDGET_FACTOR: Final = 1.5  # times the way from the lowest to the highest start
LARGER: Final = 1.1  # than the largest turn that a strategy gives
SILENT_READINGS: Final = 6  # missed in a row, at the player's slowest
REJECTED: Final = 3
LEAST_VOLTAGE_SHARE: Final = 0.9  # of the voltage of a sound supply near the motor's stall


@dataclass(frozen=True, slots=True)
class Limit:
    """A guard with its parameters, and how they follow from the rig."""

    guard: Guard
    rule: str


def default_guards(scenario: Scenario, strategy: Strategy, string: str) -> dict[str, Guard]:
    """Return every guard that a rig can have on a string, its limits derived; without those whose sensor it lacks."""
    return {name: limit.guard for name, limit in limits(scenario, strategy, string).items()}


def limits(scenario: Scenario, strategy: Strategy, string: str) -> dict[str, Limit]:
    """Return every guard that a rig can have on a string with the rule that gave its numbers."""
    rig = build(scenario, string)
    chain, motor, source = rig.chain, rig.machine.motor, rig.machine.supply.source(0.0)
    low, high = starts(scenario)
    target_n = chain.string.tension_at_hz(chain.string.target_hz)
    slope = chain.cents_per_knob_deg(target_n)
    lost_deg = 2.0 * chain.half_slop_deg + chain.reversal_deg(target_n)
    driving = strategy.drivings[string].nominal()
    ceiling = min(max(high, 0.0) + CEILING_CENTS, RESERVE_SHARE * chain.string.reserve_cents())
    way_deg = (high - min(low, 0.0)) / slope + lost_deg
    seen = (low - MARGIN_CENTS, max(high, 0.0) + MARGIN_CENTS)
    answers = {"cents_per_deg": slope, "least_cents": max(15.0, 2.0 * lost_deg * slope)}
    pluck_s = scenario.player.nominal().pluck_time_s(3.0)
    cycle_s = pluck_s + rig.ear.skip_s + rig.ear.window_s + rig.ear.computing_s + rig.ear.link_s + 2.0
    found: dict[str, tuple[dict[str, Any], str]] = {
        "largest-turn": (
            {"most_deg": LARGER * driving.largest_move_deg},
            f"{LARGER:g} times the strategy's largest move of {driving.largest_move_deg:g} deg",
        ),
        "tightening-budget": (
            {"most_deg": BUDGET_FACTOR * way_deg, "cents_per_deg": slope, "low_cents": seen[0], "high_cents": seen[1]},
            f"{BUDGET_FACTOR:g} times the way from {min(low, 0.0):g} to {high:g} cents and slop, {way_deg:.0f} deg",
        ),
        "pitch-ceiling": (
            {"most_cents": ceiling},
            f"{CEILING_CENTS:g} above every start, at most half the reserve of {chain.string.reserve_cents():.0f}",
        ),
        "no-response": (answers, f"{slope:.2f} cents a degree at the target; twice the slop does not count"),
        "wrong-direction": (answers, f"{slope:.2f} cents a degree at the target; twice the slop does not count"),
        "rejected-readings": (
            {"low_cents": seen[0], "high_cents": seen[1], "in_a_row": REJECTED},
            f"{REJECTED} in a row outside {seen[0]:g} to {seen[1]:g} cents: the starts and {MARGIN_CENTS:g} more",
        ),
        "silence": (
            {"most_silent_s": SILENT_READINGS * cycle_s + 60.0 / SILENT_READINGS, "most_s": scenario.task.time_limit_s},
            f"{SILENT_READINGS} rounds of pluck and reading at the slowest; the task's own limit",
        ),
        "power-up": ({}, "no number: armed by the first reading"),
        "hand-switch": (
            {"most_deg": max(2.0 * driving.largest_move_deg, 360.0)},
            "twice the largest move, a whole turn at least",
        ),
    }
    current = between_a(motor, source, healthy_nm(chain, high), chain.turning_nm(chain.string.breaking_n, 1))
    if current is not None:
        found["motor-current"] = (
            {"most_a": current[1]},
            f"between {current[0]:.3f} A at the highest healthy pitch and {current[2]:.3f} A at breaking or stall",
        )
        stall_a = steady_a(motor, source, 0.98 * motor.stall_torque_nm(source))
        least_v = LEAST_VOLTAGE_SHARE * (source.voltage_v - source.resistance_ohm * stall_a)
        found["supply-voltage"] = ({"least_v": least_v}, f"{LEAST_VOLTAGE_SHARE:g} of a sound supply's near the stall")
    return {name: Limit(resolve(GUARDS, name)(**found[name][0]), found[name][1]) for name in GUARDS if name in found}


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
    low_a = steady_a(motor, source, healthy_nm)
    high_a = steady_a(motor, source, min(breaking_nm, 0.98 * stall_nm))
    return (low_a, math.sqrt(low_a * high_a), high_a) if 0.0 < low_a < high_a else None


def steady_a(motor: Motor, source: Source, torque_nm: float) -> float:
    """Return the current of a turn against a torque, its start over."""
    turn = Turn(0.9 * min(motor.stroke_deg(), 400.0))
    shaft = motor.aim(turn, motor.rest())
    motion = motor.plan(turn, shaft, lambda direction: Load(torque_nm, 0.0, math.inf), source)
    longest = max(motion.pieces, key=lambda piece: piece.duration_s, default=None)
    return 0.0 if longest is None else current_a(longest, 0.9 * longest.duration_s)
