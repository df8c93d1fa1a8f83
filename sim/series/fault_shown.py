"""One fault against one guard as two runs: the worst machine without the guard, and the same one with it."""

import numpy as np

from controllers.guards import GUARDS
from scenarios.schema import Scenario
from sim.corners import trace
from sim.design.hardware import hardware
from sim.evaluate import Bench
from sim.guarded import stopped
from sim.loop import Record
from sim.seeds import Seed
from sim.series.comparison import Comparison
from sim.series.fault_cells import Variant
from sim.series.faults import defective
from sim.series.row import Item
from sim.trace import Trace


def shown(scenario: Scenario, found: Comparison, fault: str, guard: str, seed: Seed) -> list[tuple[str, Trace]]:
    """Return the worst run of a fault in a series of that seed, and the same with a guard or with hardware fitted."""
    item, faulted = _worst(found, fault), defective(scenario, Variant(fault, ()))
    bare = Bench((faulted,), seed).unguarded(item)
    held = _guarded(faulted, guard, item, seed) if guard in GUARDS else _fitted(faulted, guard, item, seed)
    return [("unguarded", trace(bare)), (f"with {guard}", trace(held))]


def _worst(found: Comparison, fault: str) -> Item:
    """Return the run that breaks the string, or comes nearest to it, as one of the faulted rig alone."""
    place = [facts.name for facts in found.grid.rigs].index(Variant(fault, ()).name())
    rows = found.rows[found.rows["rig"] == place]
    row = rows[np.lexsort((rows["percent_of_breaking"], rows["broken"]))[-1]]
    return Item(0, *(int(row[name]) for name in ("strategy", "string", "specimen", "tuning")))


def _guarded(faulted: Scenario, guard: str, item: Item, seed: Seed) -> Record:
    bench = Bench((faulted,), seed)
    return stopped(bench.unguarded(item), {guard: bench.every_guard(item)[guard]})


def _fitted(faulted: Scenario, guard: str, item: Item, seed: Seed) -> Record:
    return Bench((hardware(faulted)[guard][0](faulted),), seed).unguarded(item)
