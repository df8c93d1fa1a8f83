"""Values of a rig that a builder can choose, and the rig with one of them changed."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final, NamedTuple

from scenarios.schema import Part, Range, Scenario

EVERY: Final = "strategies.*"  # stands for the driving of every strategy
WHOLE: Final = ("microsteps", "encoder_counts", "finish_readings")
BY_STRING: Final = {"head": "heads", "nut": "nuts", "ear": "ears"}


class Lever(NamedTuple):
    """A key that a builder can choose, and the way that helps."""

    section: str
    key: str
    sense: int
    """+1 = more helps, -1 = less."""

    def whole(self) -> bool:
        """Return whether only whole numbers are allowed; they are doubled or halved."""
        return self.key in WHOLE


def _levers(**senses: int) -> tuple[Lever, ...]:
    """Return levers from ``section__key=sense``."""
    parted = ((name.partition("__"), sense) for name, sense in senses.items())
    return tuple(Lever(section, key, sense) for (section, _, key), sense in parted)


TORQUE: Final = _levers(head__ratio=1, motor__stall_torque_ref_nm=1, motor__holding_torque_nm=1)
LEVERS: Final[Mapping[str, tuple[Lever, ...]]] = {
    "reserve": (Lever(EVERY, "largest_move_deg", -1),),
    "step": _levers(
        head__ratio=1, motor__pulse_deadband_us=-1, motor__pulse_step_us=-1, motor__frame_ms=-1, motor__microsteps=1,
        motor__resolution_deg=-1, motor__encoder_counts=1, motor__time_constant_ms=-1, nut__friction=-1,
    ),
    "tighten": TORQUE,
    "loosen": TORQUE,
    "travel": _levers(motor__travel_deg=1, head__ratio=-1),
    "time": _levers(motor__speed_ref_deg_s=1, motor__step_rate_hz=1, player__regrip_s=-1, head__ratio=-1),
    "ear": _levers(ear__run_cents=-1, ear__pluck_cents=-1, task__finish_readings=1, task__tolerance_cents=1),
    "supply": _levers(supply__resistance_ohm=-1, supply__empty_ohm=-1, supply__voltage_v=1, supply__empty_v=1),
    "battery": _levers(supply__capacity_ah=1),
}  # fmt: skip


def value(scenario: Scenario, string: str, lever: Lever) -> float | None:
    """Return the lever's value in the middle of its range, None where the rig has no such number."""
    if lever.section == EVERY:
        return max(_middle(strategy.drivings[string].values[lever.key]) or 0.0 for strategy in scenario.strategies)
    if lever.section == "task":
        return _middle(getattr(scenario.task, lever.key))
    return _middle(_part(scenario, string, lever.section).values.get(lever.key))


def changed(scenario: Scenario, string: str, lever: Lever, to: float) -> Scenario:
    """Return the rig with the lever at a value, of one string where strings may differ."""
    if lever.section == EVERY:
        strategies = (
            replace(each, drivings={**each.drivings, string: _with(each.drivings[string], lever.key, to)})
            for each in scenario.strategies
        )
        return replace(scenario, strategies=tuple(strategies))
    if lever.section == "task":
        asked: dict[str, Any] = {lever.key: to}
        return replace(scenario, task=replace(scenario.task, **asked))
    part: Any = _with(_part(scenario, string, lever.section), lever.key, to)
    name = BY_STRING.get(lever.section, lever.section)
    field: dict[str, Any] = {name: {**getattr(scenario, name), string: part} if lever.section in BY_STRING else part}
    return replace(scenario, **field)


def _part(scenario: Scenario, string: str, section: str) -> Part:
    found: Any = getattr(scenario, BY_STRING.get(section, section))
    part: Part = found[string] if section in BY_STRING else found
    return part


def _with(part: Part, key: str, to: float) -> Part:
    return replace(part, values={**part.values, key: to})


def _middle(found: Any) -> float | None:
    """Return a number, a whole one as such, or the middle of a range; None for anything else."""
    if isinstance(found, Range):
        return (found.low + found.high) / 2.0
    return None if isinstance(found, str | bool) else found
