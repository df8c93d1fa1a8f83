"""Protections in mechanics and wiring: as keys of the rig, set by a stated rule. They hold whatever the firmware does.

Both pass the torque of the highest healthy pitch of every string, with some more. A string whose breaking tension asks
for less than another string's pitch is not protected by them.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from models.messages import Source
from scenarios.schema import Part, Scenario, Value
from sim.build import build
from sim.design.healthy import healthy_nm, starts

PASSES: Final = 1.15  # times the highest healthy torque (estimate: the spread of a clutch or a winding)
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
    return found


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
