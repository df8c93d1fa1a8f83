"""Limits of current and voltage, set on each machine itself.

Motors, heads and supplies differ by more than what lies between a sound tuning and a breaking string.

The current limit lies at the geometric mean of what the highest healthy tension and the breaking tension ask for: as
many times above the one as below the other.
"""

import math
from typing import Any, Final

from models.messages import Load, Piece, Source, Turn
from models.motors.base import Motor, current_a
from scenarios.schema import Scenario
from sim.build import Rig, build
from sim.design.healthy import healthy_nm, starts

NEARLY: Final = 0.98  # of the torque against which a resting motor begins to turn
SHORTEST_S: Final = 0.01  # that a current must last to count (estimate: a filter against brushes and switching)
APART: Final = 1.02  # a surge is over where its current is no further above the steady one (estimate)
OUTLASTS: Final = 1.5  # times the surge of a start against the highest healthy torque (estimate)
LEAST_VOLTAGE_SHARE: Final = 0.9  # of the voltage of a sound supply near the motor's stall

Derived = dict[str, tuple[dict[str, Any], str]]
"""By guard: its parameters and their rule."""


def of_current(rig: Rig, high_cents: float) -> Derived:
    """Return the limits of a machine whose strings start no higher than ``high_cents``.

    None for a motor without current. One that stalls before the highest healthy pitch has its limit near the stall.
    """
    (low_a, high_a), (motor, source) = _currents_a(rig, high_cents), _powered(rig)
    if low_a == 0.0:
        return {}
    most_a = math.sqrt(low_a * high_a)
    hold_s = max(SHORTEST_S, OUTLASTS * _surge_s(rig, high_cents, max(most_a, APART * low_a)))
    stall_a = steady_a(motor, source, NEARLY * motor.starting_torque_nm(source))
    least_v = LEAST_VOLTAGE_SHARE * (source.voltage_v - source.resistance_ohm * stall_a)
    return {
        "motor-current": (
            {"most_a": most_a, "hold_s": hold_s},
            f"set on each machine, here {most_a:.3f} A: between {low_a:.3f} A at the highest healthy pitch and "
            f"{high_a:.3f} A at breaking or stall; to last {hold_s:.3f} s, {OUTLASTS:g} times as long as a start and "
            f"{SHORTEST_S:g} s at least",
        ),
        "supply-voltage": (
            {"least_v": least_v},
            f"set on each machine, here {least_v:.2f} V: {LEAST_VOLTAGE_SHARE:g} of a sound supply's near the stall",
        ),
    }


def _surge_s(rig: Rig, high_cents: float, limit_a: float) -> float:
    motor, source = _powered(rig)
    torque_nm = min(healthy_nm(rig.chain, high_cents), NEARLY * motor.starting_torque_nm(source))
    return surge_s(motor, source, torque_nm, limit_a)


def breaking_a(scenario: Scenario, string: str) -> float:
    """Return the motor's current as a string breaks, or near its stall if that is lower; infinite without a current."""
    return _currents_a(build(scenario, string), starts(scenario)[1])[1] or math.inf


def tells(rig: Rig, high_cents: float) -> bool:
    """Return whether the current of a machine tells a breaking string from a sound one."""
    healthy_a, breaking_a = _currents_a(rig, high_cents)
    return healthy_a < breaking_a


def _powered(rig: Rig) -> tuple[Motor, Source]:
    return rig.machine.motor, rig.machine.supply.source(0.0)


def _currents_a(rig: Rig, high_cents: float) -> tuple[float, float]:
    """Return the current at the highest healthy pitch and at breaking, each near the stall at most; 0 without one."""
    (motor, source), chain = _powered(rig), rig.chain
    if motor.stall_torque_nm(source) == math.inf:
        return 0.0, 0.0
    most_nm = NEARLY * motor.starting_torque_nm(source)
    healthy, breaking = healthy_nm(chain, high_cents), chain.turning_nm(chain.string.breaking_n, 1)
    return steady_a(motor, source, min(healthy, most_nm)), steady_a(motor, source, min(breaking, most_nm))


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
