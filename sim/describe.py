"""What a rig is on paper, before any run: tension, reserve, torque and speed of every string, and hopeless cases."""

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from models.drivetrain import Chain
from models.units import nearest_note
from scenarios.schema import Range, Scenario
from sim.build import Rig, build


@dataclass(frozen=True, slots=True)
class Facts:
    """One string of the nominal specimen, at its target pitch."""

    string: str
    target_hz: float
    note: str
    """The nearest note and the cents above it, such as ``"E2"`` or ``"G3-3.9"``."""
    tension_n: float
    percent_of_breaking: float
    reserve_cents: float
    """How far above the target the string breaks."""
    cents_per_knob_deg: float
    torque_up_nm: float
    """Torque that the knob needs to tighten."""
    torque_down_nm: float
    """Torque that the knob needs to loosen; negative when the string drives it."""
    motor_torque_nm: float
    """Stall torque of the motor on this supply; infinite for the ideal motor."""
    motor_speed_deg_s: float
    """Speed of the shaft against the torque to tighten."""
    tightens: str
    """Which way the knob tightens, seen from its end; may be unknown."""
    stroke_cents: float
    """Pitch change of the motor's whole travel; infinite for one that turns round and round."""
    travel_cents: float
    """Pitch change of the head's whole travel; infinite for one that turns round and round."""
    wall_force_n: float
    """Force with which a friction peg presses the pegbox outwards; 0 for other heads. Told, not judged."""
    hopeless: tuple[str, ...]
    """Why this string cannot be tuned by this machine, in words with numbers; empty when it can."""


def describe(scenario: Scenario) -> list[Facts]:
    """Return the facts of every string, in order."""
    a4_hz: float = scenario.setting.nominal().a4_hz
    return [_facts(build(scenario, string), a4_hz) for string in scenario.strings]


def _note(hertz: float, a4_hz: float) -> str:
    name, off = nearest_note(hertz, a4_hz)
    return f"{name}{off:+.1f}" if abs(off) >= 0.05 else name


def _facts(rig: Rig, a4_hz: float) -> Facts:
    string, chain, motor = rig.chain.string, rig.chain, rig.machine.motor
    source = rig.machine.supply.source(0.0)
    tension = string.tension_at_hz(string.target_hz)
    slope, up_nm = chain.cents_per_knob_deg(tension), chain.turning_nm(tension, 1)
    facts = Facts(
        string=rig.string,
        target_hz=string.target_hz,
        note=_note(string.target_hz, a4_hz),
        tension_n=tension,
        percent_of_breaking=100.0 * tension / string.breaking_n,
        reserve_cents=string.reserve_cents(),
        cents_per_knob_deg=slope,
        torque_up_nm=up_nm,
        torque_down_nm=chain.turning_nm(tension, -1),
        motor_torque_nm=motor.stall_torque_nm(source),
        motor_speed_deg_s=motor.speed_deg_s(up_nm, source),
        tightens=rig.head.tightens,
        stroke_cents=motor.stroke_deg() * slope,
        travel_cents=rig.head.travel_deg() * slope,
        wall_force_n=rig.head.wall_force_n(),
        hopeless=(),
    )
    return replace(facts, hopeless=_hopeless(facts, rig))


def _hopeless(facts: Facts, rig: Rig) -> tuple[str, ...]:
    """Return why a string cannot be tuned, the gravest first."""
    found = []
    if facts.percent_of_breaking >= 100.0:
        found.append(
            f"{facts.string} would break: {facts.tension_n:.0f} N at pitch, "
            f"breaking at {rig.chain.string.breaking_n:.0f} N"
        )
    if facts.motor_torque_nm <= facts.torque_up_nm:
        found.append(
            f"the motor cannot turn the knob of {facts.string}: "
            f"{facts.torque_up_nm * 1e3:.0f} mN m needed, {facts.motor_torque_nm * 1e3:.0f} mN m at stall"
        )
    return (*found, *_slipping(facts, rig.chain))


def _slipping(facts: Facts, chain: Chain) -> Iterator[str]:
    """Give what turns that should not, or does not turn that should."""
    if chain.twist is not None and chain.twist.slip_nm <= facts.torque_up_nm:
        yield (
            f"the coupler slips on the knob of {facts.string}: "
            f"{facts.torque_up_nm * 1e3:.0f} mN m needed, it slips at {chain.twist.slip_nm * 1e3:.0f} mN m"
        )
    if facts.torque_down_nm < 0 and chain.static_nm > 0:
        pull_nm = chain.static_nm - facts.torque_down_nm
        yield (
            f"the peg of {facts.string} does not hold: its string pulls with {pull_nm * 1e3:.0f} mN m, "
            f"friction holds {chain.static_nm * 1e3:.0f} mN m"
        )
    elif facts.torque_down_nm < 0 and math.isfinite(facts.stroke_cents):
        yield f"the head of {facts.string} does not lock: it runs back while a hand re-grips"


def refusals(
    scenario: Scenario, chosen: Collection[str] | None = None, strings: Collection[str] | None = None
) -> tuple[str, ...]:
    """Return why the rig cannot be run; empty when it can.

    Strategies (all, or the chosen ones) may ask for what the motor cannot do; strings (all, or those named) may be
    beyond the signal ear.
    """
    accepts: frozenset[type] = scenario.motor.kind.accepts
    found = list(_deaf(scenario, strings))
    for strategy in scenario.strategies:
        if chosen is not None and strategy.name not in chosen:
            continue
        for kind in {part.kind for part in strategy.controllers.values()}:
            strange: frozenset[type] = getattr(kind, "asks", frozenset()) - accepts
            found += [
                f"{strategy.name} asks the motor to {command.__name__.lower()}, which it cannot" for command in strange
            ]
    return tuple(found)


def doubts(scenario: Scenario, facts: Collection[Facts]) -> tuple[str, ...]:
    """Return a line for each reason why some tunings cannot end well, though others may."""
    return (*_unheard(scenario), *_out_of_travel(scenario, facts))


def _unheard(scenario: Scenario) -> Iterator[str]:
    """Give a line when strings may start where readings are not believed."""
    acceptance, farthest = scenario.acceptance.nominal(), _farthest_cents(scenario)
    if "gate" in acceptance.stages() and "fold" not in acceptance.stages() and farthest > acceptance.gate_cents:
        yield (
            f"strings start up to {farthest:g} cents off; readings beyond {acceptance.gate_cents:g} cents are not "
            "believed (acceptance.gate_cents)"
        )


def _out_of_travel(scenario: Scenario, facts: Collection[Facts]) -> Iterator[str]:
    """Give a line for each head whose travel, from its middle, does not reach where strings may start."""
    farthest = _farthest_cents(scenario)
    for each in facts:
        if 0.5 * each.travel_cents < farthest:
            yield (
                f"the head of {each.string} reaches {0.5 * each.travel_cents:.0f} cents from the middle of its travel; "
                f"strings start up to {farthest:g} cents off, and runs do not stop at its end"
            )


def _farthest_cents(scenario: Scenario) -> float:
    start = scenario.setting.values["start_cents"]
    return max(abs(start.low), abs(start.high)) if isinstance(start, Range) else abs(float(str(start)))


def _deaf(scenario: Scenario, strings: Collection[str] | None) -> tuple[str, ...]:
    if scenario.ear != "signal":
        return ()
    from sim.hearing.limits import deaf

    return deaf(scenario, scenario.strings if strings is None else strings)
