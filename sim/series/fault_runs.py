"""One run of the fault series as a row."""

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Final

from models.drive import Drive
from scenarios.schema import Scenario
from sim import metrics
from sim.corners import course
from sim.design.hardware import needless, stop_deg
from sim.evaluate import OUTCOMES, bench_of
from sim.guarded import Stop, brings, reaches_s, stops, trips
from sim.seeds import Seed
from sim.series.fault_row import BARE, PIN, STOPPERS
from sim.series.row import Item
from sim.sound import Sound

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
    values = metrics.measured(course(record))
    row: list[Any] = [item.rig, item.strategy, item.string, item.specimen, item.tuning, OUTCOMES[record.outcome]]
    row += [values[name] for name, _ in BARE[len(row) :]]
    guards, pin_deg = bench.every_guard(item), _pin_deg(Sound(scenarios[item.rig]))
    tripped = trips(record, guards) | {PIN: None if pin_deg is None else reaches_s(record, pin_deg)}
    found = stops(record, brings(guards) | {PIN: Drive.hold_at}, tripped)
    for name in STOPPERS:
        stop = found.get(name)
        row += NEVER if stop is None else stop
    return tuple(row)


@lru_cache(maxsize=256)
def _pin_deg(rig: Sound) -> float | None:
    """Return the turn of the knob at which a stop stands, None where the rig can have none."""
    return None if PIN in needless(rig.scenario()) else stop_deg(rig.scenario())
