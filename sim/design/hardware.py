"""Protections in mechanics and wiring: as keys of the rig, set by a stated rule. They hold whatever the firmware does.

Clutch and resistor pass the torque of the highest healthy pitch of every string, with some more. A string whose
breaking tension asks for less than another string's pitch is not protected by them. One stop of the knob serves every
string from every start: it passes the longest healthy way, and a string that breaks sooner is not protected by it.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from models.drivetrain import Chain
from models.messages import Source
from models.units import shifted
from scenarios.schema import Part, Scenario, Value
from sim.build import build
from sim.design.healthy import MARGIN_CENTS, healthy_nm, starts

PASSES: Final = 1.15  # times the highest healthy torque or way (estimate: the spread of clutch, winding or post)
HALVINGS: Final = 60
MOST_OHM: Final = 1000.0

Fit = Callable[[Scenario], Scenario]
"""A rig to the same rig with a protection fitted."""


def passing_nm(scenario: Scenario) -> float:
    """Return the torque that a protection must let pass: that of the highest healthy pitch of all strings, and more."""
    _, high = starts(scenario)
    return PASSES * max(healthy_nm(build(scenario, string).chain, high) for string in scenario.strings)


def hardware(scenario: Scenario) -> dict[str, tuple[Fit, str]]:
    """Return the protections that a rig can have, each with the words of its rule."""
    torque_nm = passing_nm(scenario)
    found: dict[str, tuple[Fit, str]] = {}
    if "slip_torque_nm" in scenario.coupler.values:
        rule = f"slips at {1e3 * torque_nm:.0f} mN m, {PASSES:g} times the highest healthy torque of all strings"
        found["slip-clutch"] = (lambda rig: fitted(rig, "coupler", {"slip_torque_nm": torque_nm}), rule)
    extra_ohm = series_ohm(scenario, torque_nm)
    if extra_ohm is not None:
        whole = scenario.supply.nominal().resistance_ohm + extra_ohm
        rule = f"{extra_ohm:.1f} ohm more: the motor stalls at {1e3 * torque_nm:.0f} mN m"
        found["series-resistor"] = (lambda rig: fitted(rig, "supply", {"resistance_ohm": whole}), rule)
    if travel_deg(scenario) > stop_deg(scenario):
        turn_deg = stop_deg(scenario)
        found["mechanical-stop"] = (
            lambda rig: fitted(rig, "coupler", {"stop_deg": turn_deg}), _rule_of_stop(scenario, turn_deg)
        )  # fmt: skip
    return found


def needless(scenario: Scenario) -> dict[str, str]:
    """Return why a rig cannot have a protection, or needs none."""
    most_deg, passes_deg = travel_deg(scenario), stop_deg(scenario)
    if most_deg > passes_deg:
        return {}
    return {"mechanical-stop": f"not on this rig: the motor turns {most_deg:.0f} deg, a stop passes {passes_deg:.0f}"}


def travel_deg(scenario: Scenario) -> float:
    """Return how far the motor tightens from where it was put on, hands included; infinite where nothing ends it."""
    machine = build(scenario, next(iter(scenario.strings))).machine
    return math.inf if machine.regrip else machine.motor.stroke_deg() - machine.motor.rest().angle_deg


def stop_deg(scenario: Scenario) -> float:
    """Return the turn of the knob that a stop must let pass: the longest healthy way of all strings, and more.

    Slop is not in it, as the stop is on the knob.
    """
    low, high = starts(scenario)
    return PASSES * max(_way_deg(build(scenario, string).chain, low, high) for string in scenario.strings)


def _way_deg(chain: Chain, low: float, high: float) -> float:
    """Return the turn of the knob from the lowest start to the highest healthy pitch, a change of direction in it."""
    low_n, high_n = (_tension_n(chain, cents) for cents in (min(low, 0.0), max(high, 0.0) + MARGIN_CENTS))
    return (high_n - low_n) * chain.ratio / chain.newton_per_deg + chain.reversal_deg(high_n)


def _tension_n(chain: Chain, cents: float) -> float:
    return chain.string.tension_at_hz(shifted(chain.string.target_hz, cents))


def stop_holds(chain: Chain, turn_deg: float, start_cents: float) -> bool:
    """Return whether a stop keeps a string whole that starts there, whatever turns its knob."""
    begins = chain.at(_tension_n(chain, start_cents), 0.0)
    return not chain.broken(chain.turned(begins, begins.shaft_deg, begins.knob_deg + turn_deg))


def _rule_of_stop(scenario: Scenario, turn_deg: float) -> str:
    """Return the rule in words, with the strings that it does not hold on."""
    _, high = starts(scenario)
    held = {name: stop_holds(build(scenario, name).chain, turn_deg, high) for name in scenario.strings}
    lost = [name for name, holds in held.items() if not holds]
    rule = f"stops the knob after {turn_deg:.0f} deg, {PASSES:g} times the longest healthy way of all strings"
    return rule if not lost else f"{rule}; from the highest start it does not hold on: {', '.join(lost)}"


def fitted(scenario: Scenario, section: str, values: Mapping[str, Value]) -> Scenario:
    """Return a rig with other values in one of its sections."""
    part: Part = getattr(scenario, section)
    changed: dict[str, Any] = {section: replace(part, values=dict(part.values) | dict(values))}
    return replace(scenario, **changed)


def series_ohm(scenario: Scenario, torque_nm: float) -> float | None:
    """Return the resistance in the motor's line with which it stalls at a torque; None where there is none."""
    if "resistance_ohm" not in scenario.supply.values:
        return None
    motor, source = scenario.motor.nominal(), scenario.supply.nominal().source(0.0)
    if motor.stall_torque_nm(source) <= torque_nm:
        return None
    low, high = 0.0, MOST_OHM
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        stalls_nm = motor.stall_torque_nm(Source(source.voltage_v, source.resistance_ohm + middle))
        low, high = (middle, high) if stalls_nm > torque_nm else (low, middle)
    return low if low < 0.99 * MOST_OHM else None
