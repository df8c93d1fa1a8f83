"""One run of a series as a row, or as a whole trace: a pure function of scenarios, item and seed."""

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np

from controllers.guards.base import Guard
from models.body import Coupling
from scenarios.schema import Scenario
from sim import metrics
from sim.build import Rig, defective, sound, start_cents
from sim.corners import course, trace
from sim.design.guard_limits import default_guards, named_guards
from sim.guarded import stopped
from sim.loop import Record, simulate
from sim.plan import Plan, plan
from sim.seeds import Chance, Seed, Streams, run_key, streams_of, visited
from sim.series.row import ROW, Item
from sim.session import Setup, Sitting
from sim.sitting import measured as in_session
from sim.sound import Sound
from sim.trace import Outcome, Trace

MEASURED = (ROW.names or ())[6:]  # after rig, strategy, string, specimen, tuning, outcome
OUTCOMES = {outcome: place for place, outcome in enumerate(Outcome)}


class Bench:
    """Builds what runs have in common once: streams of a seed, specimens, strategies in their wrappers."""

    def __init__(self, scenarios: Sequence[Scenario], seed: Seed) -> None:
        self.scenarios, self.seed = scenarios, seed
        self.streams = streams_of(seed)
        self._strings = [tuple(scenario.strings) for scenario in scenarios]
        self._rig = lru_cache(maxsize=256)(self._build)
        self._sound = lru_cache(maxsize=256)(self._build_sound)
        self._coupling = lru_cache(maxsize=64)(self._couple)
        self._sitting = lru_cache(maxsize=256)(self._hold)
        self._plan = lru_cache(maxsize=4096)(self._wrap)
        self._named_guards = lru_cache(maxsize=4096)(self._set_named)
        self._every_guard = lru_cache(maxsize=4096)(self._set_every)

    def row(self, item: Item) -> np.void:
        """Run one item and return its row: of one string by itself, or of one in a session."""
        if self.scenarios[item.rig].whole:
            string = self._strings[item.rig][item.string]
            return _row(item, *in_session(self.sitting(item), string, self.scenarios[item.rig].task))
        record = self.record(item)
        return _row(item, record.outcome, metrics.measured(course(record)))

    def record(self, item: Item) -> Record:
        """Run one item, a string by itself, and return its record: up to where a guard of the rig file stops it."""
        record = self.unguarded(item)
        guards = self._named_guards(item.rig, item.strategy, self._strings[item.rig][item.string], item.specimen)
        return stopped(record, guards) if guards else record

    def unguarded(self, item: Item) -> Record:
        """Run one item, a string by itself, whatever guards the rig has."""
        string, rig = self._strings[item.rig][item.string], self.rig(item)
        chance = Chance(self.streams, string, run_key(item.specimen, item.tuning))
        return simulate(rig, self.plan(item), rig.begins(self.start_cents(item)), chance)

    def rig(self, item: Item) -> Rig:
        """Return the specimen of an item with its string under the drive, on a rigid body."""
        return self._rig(item.rig, self._strings[item.rig][item.string], item.specimen, 0.0)

    def every_guard(self, item: Item) -> dict[str, Guard]:
        """Return every guard that the rig of an item can have, set on the specimen without its faults."""
        string = self._strings[item.rig][item.string]
        return self._every_guard(Sound(self.scenarios[item.rig]), item.strategy, string, item.specimen)

    def plan(self, item: Item) -> Plan:
        """Return the strategy of an item on its string, in its wrappers."""
        return self._plan(item.rig, item.strategy, self._strings[item.rig][item.string])

    def start_cents(self, item: Item) -> float:
        """Return the pitch error with which an item begins."""
        string = self._strings[item.rig][item.string]
        return start_cents(self.scenarios[item.rig], string, self.streams, item.specimen, item.tuning)

    def sitting(self, item: Item) -> Sitting:
        """Return the session that an item is a string of."""
        return self._sitting(item.rig, item.strategy, item.specimen, item.tuning)

    def _hold(self, rig: int, strategy: int, specimen: int, tuning: int) -> Sitting:
        scenario, run = self.scenarios[rig], run_key(specimen, tuning)
        coupling = self._coupling(rig, specimen)
        setup = Setup(
            session=scenario.session.drawn(lambda key: self.streams.uniform(key, specimen)),
            order=scenario.order,
            coupling=coupling,
            rig=lambda string, taut: self._rig(rig, string, specimen, coupling.give_m_n(string, taut)),
            plan=lambda string: self._plan(rig, strategy, string),
            start_cents=lambda string: start_cents(scenario, string, self.streams, specimen, tuning),
            chance=lambda string, visit: Chance(self.streams, visited(string, visit), run),
            carry=lambda string, visit: self.streams.carry(string, run, visit),
        )
        sitting = Sitting(setup)
        sitting.hold()
        return sitting

    def _couple(self, rig: int, specimen: int) -> Coupling:
        """Return the strings of a specimen on its body."""
        scenario, uniform = self.scenarios[rig], self.streams.uniform
        body = scenario.body.drawn(lambda key: uniform(key, specimen))
        built = {string: self._rig(rig, string, specimen, 0.0).chain.string for string in scenario.strings}
        stiffness = {string: one.stiffness_n_m for string, one in built.items()}
        return Coupling(body.compliance_um_per_n * 1e-6, stiffness)

    def _build(self, rig: int, string: str, specimen: int, give_m_n: float) -> Rig:
        scenario = self.scenarios[rig]
        found = self._sound(Sound(scenario), string, specimen, give_m_n)
        return defective(found, scenario.faults, self.streams, specimen) if scenario.faults else found

    def _build_sound(self, scenario: Sound, string: str, specimen: int, give_m_n: float) -> Rig:
        return sound(scenario.scenario(), string, self.streams, specimen, give_m_n)

    def _wrap(self, rig: int, strategy: int, string: str) -> Plan:
        return plan(self.scenarios[rig], self.scenarios[rig].strategies[strategy], string)

    def _set_named(self, rig: int, strategy: int, string: str, specimen: int) -> dict[str, Guard]:
        scenario = self.scenarios[rig]
        if not scenario.guards:
            return {}
        machine = self._sound(Sound(scenario), string, specimen, 0.0)
        return named_guards(scenario, scenario.strategies[strategy], string, machine)

    def _set_every(self, rig: Sound, strategy: int, string: str, specimen: int) -> dict[str, Guard]:
        scenario, machine = rig.scenario(), self._sound(rig, string, specimen, 0.0)
        return default_guards(scenario, scenario.strategies[strategy], string, machine)


_last: Bench | None = None


def bench_of(scenarios: Sequence[Scenario], seed: Seed) -> Bench:
    """Return the bench of the last call when it was for the same scenarios and seed, else a new one."""
    global _last
    if _last is None or _last.scenarios is not scenarios or _last.seed != seed:
        _last = Bench(scenarios, seed)
    return _last


def evaluate(scenarios: Sequence[Scenario], item: Item, seed: Seed) -> np.void:
    """Run one item and return its row of dtype ``ROW``."""
    return bench_of(scenarios, seed).row(item)


def _row(item: Item, outcome: Outcome, values: Mapping[str, float]) -> np.void:
    row = np.empty(1, dtype=ROW)
    place = (item.rig, item.strategy, item.string, item.specimen, item.tuning, OUTCOMES[outcome])
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
