"""One run of a series as a row, or as a whole trace: a pure function of scenarios, item and seed."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from scenarios.schema import Scenario
from sim import metrics
from sim.build import Rig, build, start_cents
from sim.corners import course, trace
from sim.loop import Record, simulate
from sim.plan import Plan, plan
from sim.seeds import Chance, Streams, run_key
from sim.series.row import ROW, Item
from sim.trace import Outcome, Trace

MEASURED = (ROW.names or ())[6:]  # after rig, strategy, string, specimen, tuning, outcome
OUTCOMES = {outcome: place for place, outcome in enumerate(Outcome)}


class Bench:
    """Builds what runs have in common once: streams of a seed, specimens, strategies in their wrappers."""

    def __init__(self, scenarios: Sequence[Scenario], seed: int) -> None:
        self.scenarios, self.seed = scenarios, seed
        self._streams = Streams(seed)
        self._strings = [tuple(scenario.strings) for scenario in scenarios]
        self._rig = lru_cache(maxsize=256)(self._build)
        self._plan = lru_cache(maxsize=4096)(self._wrap)

    def record(self, item: Item) -> Record:
        """Run one item and return its record."""
        string = self._strings[item.rig][item.string]
        start = start_cents(self.scenarios[item.rig], string, self._streams, item.specimen, item.tuning)
        chance = Chance(self._streams, string, run_key(item.specimen, item.tuning))
        rig = self._rig(item.rig, string, item.specimen)
        return simulate(rig, self._plan(item.rig, item.strategy, string), rig.begins(start), chance)

    def _build(self, rig: int, string: str, specimen: int) -> Rig:
        return build(self.scenarios[rig], string, self._streams, specimen)

    def _wrap(self, rig: int, strategy: int, string: str) -> Plan:
        return plan(self.scenarios[rig], self.scenarios[rig].strategies[strategy], string)


_last: Bench | None = None


def _bench(scenarios: Sequence[Scenario], seed: int) -> Bench:
    """Return the bench of the last call when it was for the same scenarios and seed, else a new one."""
    global _last
    if _last is None or _last.scenarios is not scenarios or _last.seed != seed:
        _last = Bench(scenarios, seed)
    return _last


def evaluate(scenarios: Sequence[Scenario], item: Item, seed: int) -> np.void:
    """Run one item and return its row of dtype ``ROW``."""
    record = _bench(scenarios, seed).record(item)
    values = metrics.measured(course(record))
    row = np.empty(1, dtype=ROW)
    place = (item.rig, item.strategy, item.string, item.specimen, item.tuning, OUTCOMES[record.outcome])
    row[0] = (*place, *[values[name] for name in MEASURED])
    found: np.void = row[0]
    return found


def record_of(
    scenario: Scenario, strategy: str, string: str, *, seed: int = 1, specimen: int = 0, tuning: int = 0
) -> Record:
    """Run one tuning of one string and return its record; the same run as in a series of that seed.

    Raises ``KeyError`` for a strategy or a string that the scenario lacks.
    """
    strategies = [known.name for known in scenario.strategies]
    if strategy not in strategies or string not in scenario.strings:
        raise KeyError(strategy if strategy not in strategies else string)
    item = Item(0, strategies.index(strategy), tuple(scenario.strings).index(string), specimen, tuning)
    return Bench((scenario,), seed).record(item)


def trace_of(
    scenario: Scenario, strategy: str, string: str, *, seed: int = 1, specimen: int = 0, tuning: int = 0
) -> Trace:
    """Return all that happened in the run of ``record_of``. Raises ``KeyError`` like it."""
    return trace(record_of(scenario, strategy, string, seed=seed, specimen=specimen, tuning=tuning))


def chance_of(string: str, *, seed: int = 1, specimen: int = 0, tuning: int = 0) -> Chance:
    """Return the chance that the run of ``record_of`` met, from its start."""
    return Chance(Streams(seed), string, run_key(specimen, tuning))
