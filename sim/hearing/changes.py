"""Small changes to a rig that may turn a poor ear into one that serves, from the cheapest to the dearest."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from models.detectors.base import Detector
from scenarios.schema import Part, Range, Scenario, Value
from sim.hearing.candidates import as_part

CRYSTAL_PPM: Final = Range(-100.0, 100.0)  # estimate: crystal of 30 ppm and a divider that is rounded
LOW_PASS_SHARE: Final = 0.4  # of the sample rate: common practice
LOW_PASS_ORDER: Final = 4

Change = Callable[[Scenario], Scenario | None]
"""The rig with the change; None where it has it already or cannot have it."""


def changes(other: tuple[str, Detector] | None) -> dict[str, Change]:
    """Return the changes by what a sentence says of them; ``other`` is the best other detector that fits."""
    found: dict[str, Change] = {"a gate around the target": _gate}
    if other is not None:
        name, detector = other
        found[f"{name} as detector"] = lambda scenario: _hearing(scenario, "detector", as_part(detector))
    return {
        **found,
        "a window half as long": _half_window,
        "a window twice as long": _window,
        "a sample rate twice as high, window and hop in seconds kept": _rate,
        "a crystal as clock": _crystal,
        "a four-pole low-pass at 0.4 of the sample rate": _low_pass,
    }


def _gate(scenario: Scenario) -> Scenario | None:
    order = scenario.acceptance.nominal().order
    if "gate" in order.split():
        return None
    return replace(scenario, acceptance=_with(scenario.acceptance, order=f"{order} gate".strip()))


def _window(scenario: Scenario) -> Scenario | None:
    return _changed(scenario, "listening", window_samples=2 * scenario.hearing["listening"].nominal().window_samples)


def _half_window(scenario: Scenario) -> Scenario | None:
    return _changed(scenario, "listening", window_samples=scenario.hearing["listening"].nominal().window_samples // 2)


def _rate(scenario: Scenario) -> Scenario | None:
    listening = scenario.hearing["listening"].nominal()
    faster = _changed(scenario, "converter", rate_hz=2.0 * scenario.hearing["converter"].nominal().rate_hz)
    if faster is None:
        return None
    longer = {"window_samples": 2 * listening.window_samples, "hop_samples": 2 * listening.hop_samples}
    return _changed(faster, "listening", **longer)


def _crystal(scenario: Scenario) -> Scenario | None:
    now = scenario.hearing["converter"].values["clock_ppm"]
    ends = (now.low, now.high) if isinstance(now, Range) else (now,)
    if all(CRYSTAL_PPM.low <= float(end) <= CRYSTAL_PPM.high for end in ends):
        return None
    return _changed(scenario, "converter", clock_ppm=CRYSTAL_PPM)


def _low_pass(scenario: Scenario) -> Scenario | None:
    front_end = scenario.hearing["front_end"].nominal()
    corner_hz = LOW_PASS_SHARE * scenario.hearing["converter"].nominal().rate_hz
    if front_end.low_pass_order >= LOW_PASS_ORDER and front_end.low_pass_hz <= corner_hz:
        return None
    return _changed(scenario, "front_end", low_pass_hz=corner_hz, low_pass_order=LOW_PASS_ORDER)


def _changed(scenario: Scenario, section: str, **values: Value) -> Scenario | None:
    """Return the rig with other values in a section of hearing; None when the section cannot have them."""
    part = _with(scenario.hearing[section], **values)
    try:
        part.nominal()
    except ValueError:  # such as a rate above what the conversion time allows
        return None
    return _hearing(scenario, section, part)


def _hearing(scenario: Scenario, section: str, part: Part) -> Scenario:
    hearing: Mapping[str, Any] = {**scenario.hearing, section: part}
    return replace(scenario, hearing=hearing)


def _with(part: Part, **values: Value) -> Part:
    return replace(part, values={**part.values, **values})
