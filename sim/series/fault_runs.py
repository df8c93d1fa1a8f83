"""One run of the fault series as a row."""

import math
from collections.abc import Sequence
from dataclasses import fields, replace
from functools import lru_cache
from typing import Any, Final

from controllers.guards.base import Guard
from models.drive import Drive
from scenarios.schema import Scenario
from sim import metrics
from sim.corners import course
from sim.design.current_limit import set_on
from sim.design.guard_limits import default_guards
from sim.design.hardware import needless, stop_deg
from sim.evaluate import OUTCOMES, bench_of
from sim.guarded import Stop, brings, reaches_s, stops, trips
from sim.seeds import Seed, Streams
from sim.series.fault_row import BARE, PIN, STOPPERS
from sim.series.row import Item

NEVER: Final = Stop(
    math.nan,
    broken=False,
    percent_of_breaking=math.nan,
    left_cents=math.nan,
    plucks=0,
    readings=0,
    after_s=math.nan,
    turned_deg=math.nan,
)
"""What a guard makes of a run that it never stops."""


def evaluate(scenarios: Sequence[Scenario], item: Item, seed: Seed) -> tuple[Any, ...]:
    """Run one item without a guard and return its row of dtype ``FAULT_ROW``."""
    bench = bench_of(scenarios, seed)
    record = bench.unguarded(item)
    scenario = scenarios[item.rig]
    string = tuple(scenario.strings)[item.string]
    values = metrics.measured(course(record))
    row: list[Any] = [item.rig, item.strategy, item.string, item.specimen, item.tuning, OUTCOMES[record.outcome]]
    row += [values[name] for name, _ in BARE[len(row) :]]
    guards = _guards(_Sound(scenario, item.strategy, string), item.specimen, bench.streams)
    pin_deg = _pin_deg(_Sound(scenario))
    tripped = trips(record, guards) | {PIN: None if pin_deg is None else reaches_s(record, pin_deg)}
    found = stops(record, brings(guards) | {PIN: Drive.hold_at}, tripped)
    for name in STOPPERS:
        stop = found.get(name)
        row += NEVER if stop is None else stop
    return tuple(row)


class _Sound:
    """A rig, or a strategy on a string of it, its faults left out; equal when its other parts are the same objects."""

    def __init__(self, scenario: Scenario, strategy: int = 0, string: str = "") -> None:
        self.scenario, self.strategy, self.string = scenario, strategy, string
        parts = (id(getattr(scenario, each.name)) for each in fields(scenario) if each.name not in ("faults", "name"))
        self._key = (strategy, string, *parts)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Sound) and other._key == self._key

    def __hash__(self) -> int:
        return hash(self._key)


@lru_cache(maxsize=4096)
def _guards(sound: _Sound, specimen: int, streams: Streams) -> dict[str, Guard]:
    scenario = replace(sound.scenario, faults={})
    machine = set_on(scenario, sound.string, streams, specimen)
    return default_guards(scenario, scenario.strategies[sound.strategy], sound.string, machine)


@lru_cache(maxsize=4096)
def _pin_deg(sound: _Sound) -> float | None:
    """Return the turn of the knob at which a stop stands, None where the rig can have none."""
    scenario = replace(sound.scenario, faults={})
    return None if PIN in needless(scenario) else stop_deg(scenario)
