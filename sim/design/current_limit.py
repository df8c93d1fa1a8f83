"""Limits of current and voltage from what sound machines draw: motors, heads and supplies differ from one to the next.

The limit lies between what the highest healthy pitch asks of nearly all machines and what breaking asks of nearly all,
as many times above the one as below the other. Where machines differ more than that, it lets sound machines work, and
says in how many the string breaks below it: there a limit must be set on the machine itself.
"""

import math
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from models.messages import Load, Source, Turn
from models.motors.base import Motor, current_a
from scenarios.schema import Scenario
from sim.build import Rig, build, drawn
from sim.design.healthy import healthy_nm, starts

MACHINES: Final = 100
NEARLY_ALL: Final = 0.99
WORDS: Final = f"{100.0 * NEARLY_ALL:.0f} % of machines"
SEED: Final = 0  # of the machines that limits are derived from; no series uses it unless asked to
NEARLY: Final = 0.98  # of the torque against which a resting motor begins to turn
LEAST_VOLTAGE_SHARE: Final = 0.9  # of the voltage of a sound supply near the motor's stall

Derived = dict[str, tuple[dict[str, Any], str]]
"""By guard: its parameters and their rule."""


class Drawn(NamedTuple):
    """What a machine draws."""

    healthy_a: float
    """At the highest healthy pitch."""
    breaking_a: float
    """At breaking, or near the stall if that is less."""
    least_v: float
    """What is left of its supply near the stall."""


def of_current(scenario: Scenario, string: str) -> Derived:
    """Return the limits of current and voltage; none for a motor whose current does not tell breaking from sound."""
    nominal = _draws(build(scenario, string), starts(scenario)[1])
    if nominal is None or not 0.0 < nominal.healthy_a < nominal.breaking_a:
        return {}
    machines = list(_machines(scenario, string))
    most_a, rule = _limit(machines)
    least_v = LEAST_VOLTAGE_SHARE * -_nearly_all([-each.least_v for each in machines])
    voltage = f"{least_v:.2f} V: {LEAST_VOLTAGE_SHARE:g} of what {WORDS} keep near the stall"
    return {"motor-current": ({"most_a": most_a}, rule), "supply-voltage": ({"least_v": least_v}, voltage)}


def _limit(machines: list[Drawn]) -> tuple[float, str]:
    healthy_a = _nearly_all([each.healthy_a for each in machines])
    breaking_a = -_nearly_all([-each.breaking_a for each in machines])
    draws = f"{WORDS} draw less than {healthy_a:.3f} A at the highest healthy pitch"
    if healthy_a < breaking_a:
        most_a = math.sqrt(healthy_a * breaking_a)
        return most_a, f"{most_a:.3f} A: {draws}, and more than {breaking_a:.3f} A at breaking or stall"
    blind = sum(each.breaking_a <= healthy_a for each in machines)
    share = f"breaking or stall takes no more in {100.0 * blind / len(machines):.0f} %: set it on the machine itself"
    return healthy_a, f"{healthy_a:.3f} A: {draws}; {share}"


def _nearly_all(numbers: list[float]) -> float:
    """Return what nearly all numbers do not exceed."""
    return sorted(numbers)[math.ceil(NEARLY_ALL * len(numbers)) - 1]


def _machines(scenario: Scenario, string: str) -> Iterator[Drawn]:
    """Give machines as they come."""
    from sim.seeds import Streams  # it needs numpy, which the design sheet does without

    streams, (_, high_cents) = Streams(SEED), starts(scenario)
    for number in range(MACHINES):

        def draw(key: str, machine: int = number) -> float:
            return streams.uniform(key, machine)

        found = _draws(drawn(scenario, string, draw, scenario.ears[string].drawn(draw)), high_cents)
        if found is not None:
            yield found


def breaking_a(scenario: Scenario, string: str) -> float:
    """Return the highest current at which a string of any machine breaks, or its motor is near the stall.

    Infinite without a current.
    """
    found = [each.breaking_a for each in _machines(scenario, string)]
    return max(found, default=math.inf)


def _draws(rig: Rig, high_cents: float) -> Drawn | None:
    """Return what a machine draws; None without a stall torque."""
    motor, source = rig.machine.motor, rig.machine.supply.source(0.0)
    if not motor.stall_torque_nm(source) < math.inf:
        return None
    most_nm = NEARLY * motor.starting_torque_nm(source)
    healthy_a = steady_a(motor, source, min(healthy_nm(rig.chain, high_cents), most_nm))
    breaking_a = steady_a(motor, source, min(rig.chain.turning_nm(rig.chain.string.breaking_n, 1), most_nm))
    return Drawn(healthy_a, breaking_a, source.voltage_v - source.resistance_ohm * steady_a(motor, source, most_nm))


def steady_a(motor: Motor, source: Source, torque_nm: float) -> float:
    """Return the current of a turn against a torque, its start over."""
    turn = Turn(0.9 * min(motor.stroke_deg(), 400.0))
    shaft = motor.aim(turn, motor.rest())
    motion = motor.plan(turn, shaft, lambda direction: Load(torque_nm, 0.0, math.inf), source)
    longest = max(motion.pieces, key=lambda piece: piece.duration_s, default=None)
    return 0.0 if longest is None else current_a(longest, 0.9 * longest.duration_s)
