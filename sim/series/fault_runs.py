"""One run of the fault series as a row."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

from controllers.guards.base import Guard
from models.drive import Drive
from scenarios.schema import Scenario
from sim import metrics
from sim.corners import course
from sim.design.guard_limits import default_guards
from sim.design.hardware import lacking, stop_deg
from sim.evaluate import OUTCOMES, bench_of
from sim.guarded import brings, reaches_s, stops, trips
from sim.seeds import Seed
from sim.series.fault_row import BARE, PIN, STOPPERS
from sim.series.row import Item


def evaluate(scenarios: Sequence[Scenario], item: Item, seed: Seed) -> tuple[Any, ...]:
    """Run one item without a guard and return its row of dtype ``FAULT_ROW``."""
    bench = bench_of(scenarios, seed)
    record = bench.record(item)
    scenario = scenarios[item.rig]
    string = tuple(scenario.strings)[item.string]
    values = metrics.measured(course(record))
    row: list[Any] = [item.rig, item.strategy, item.string, item.specimen, item.tuning, OUTCOMES[record.outcome]]
    row += [values[name] for name, _ in BARE[len(row) :]]
    guards = _guards(_Sound(scenario, item.strategy, string))
    pin_deg = _pin_deg(_Sound(scenario))
    tripped = trips(record, guards) | {PIN: None if pin_deg is None else reaches_s(record, pin_deg)}
    found = stops(record, brings(guards) | {PIN: Drive.hold_at}, tripped)
    for name in STOPPERS:
        stop = found.get(name)
        row += (math.nan, False, math.nan, 0) if stop is None else stop
    return tuple(row)


class _Sound:
    """A rig, or a strategy on a string of it, its faults left out; equal when name and data are."""

    def __init__(self, scenario: Scenario, strategy: int = 0, string: str = "") -> None:
        self.scenario, self.strategy, self.string = scenario, strategy, string
        self._key = (id(scenario), strategy, string)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Sound) and other._key == self._key and other.scenario is self.scenario

    def __hash__(self) -> int:
        return hash(self._key)


@lru_cache(maxsize=4096)
def _guards(sound: _Sound) -> dict[str, Guard]:
    scenario = replace(sound.scenario, faults={})
    return default_guards(scenario, scenario.strategies[sound.strategy], sound.string)


@lru_cache(maxsize=4096)
def _pin_deg(sound: _Sound) -> float | None:
    """Return the turn of the knob at which a stop stands, None where the rig can have none."""
    scenario = replace(sound.scenario, faults={})
    return None if PIN in lacking(scenario) else stop_deg(scenario)
