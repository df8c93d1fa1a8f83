"""Whatever numbers a rig file is allowed to hold, a run ends in a named way and its measures make sense."""

import math
import random

import pytest

from scenarios import library
from scenarios.errors import RigError
from scenarios.load import load_rig, ready_rigs
from scenarios.schema import Scenario
from sim.evaluate import evaluate
from sim.series.row import Item
from sim.trace import Outcome

NUMBERS = (0.0, 1e-3, 0.01, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 100.0, 200.0, 1000.0, -50.0)
TABLES = {
    "instrument": "setting", "coupler": "coupler", "motor": "motor", "supply": "supply", "player": "player",
    "acceptance": "acceptance",
}  # fmt: skip


def any_rig(chance: random.Random) -> Scenario:
    """Return a ready rig with a quarter of its numbers replaced by others that its file may hold."""
    name = chance.choice(ready_rigs())
    kept: list[str] = []
    for change in _changes(load_rig(name), chance):
        try:
            load_rig(name, changes=[*kept, change])
        except RigError:
            continue
        kept.append(change)
    return load_rig(name, changes=kept)


def _changes(base: Scenario, chance: random.Random) -> list[str]:
    kinds = {table: getattr(base, part).kind for table, part in TABLES.items()}
    kinds["ear"] = next(iter(base.ears.values())).kind
    kinds |= {"head": next(iter(base.heads.values())).kind, "task": library.component_class("task", None)}
    found = []
    for table, kind in kinds.items():
        for parameter in library.parameters(kind):
            if parameter.numeric and chance.random() < 0.25:
                value = chance.choice(NUMBERS)
                ranged = f"{{ low = {value}, high = {value + abs(value)} }}"
                found.append(f"{table}.{parameter.name}={ranged if chance.random() < 0.2 else value}")
    for strategy in base.strategies:
        found.append(f"strategies.{strategy.name}.driving={chance.choice(['step', 'overlapped', 'turning'])}")
        found.append(f"strategies.{strategy.name}.readings_per_pluck={chance.choice([1, 2, 10])}")
    return found


@pytest.mark.parametrize("seed", range(60))
def test_any_rig_runs_to_a_named_end(seed: int) -> None:
    chance = random.Random(seed)
    scenarios = (any_rig(chance),)
    for strategy in range(len(scenarios[0].strategies)):
        item = Item(0, strategy, chance.randrange(len(scenarios[0].strings)), chance.randrange(99), 0)
        row = evaluate(scenarios, item, 1)
        outcome = list(Outcome)[row["outcome"]]
        assert outcome is not Outcome.CRASHED
        assert 0.0 < row["percent_of_breaking"] <= 100.0 + 1e-9
        assert row["broken"] == (outcome is Outcome.STRING_BROKE)
        assert not row["broken"] or row["percent_of_breaking"] == pytest.approx(100.0)
        assert not row["in_tune"] or abs(row["final_error_cents"]) <= scenarios[0].task.tolerance_cents
        assert row["finished"] == (outcome is Outcome.FINISHED)
        assert row["plucks"] <= scenarios[0].task.pluck_limit
        assert row["seconds"] >= 0.0 and row["energy_j"] >= 0.0 and row["overshoot_cents"] >= 0.0
        assert math.isnan(row["settling_s"]) or 0.0 <= row["settling_s"] <= row["seconds"]
        again = evaluate(scenarios, item, 1)
        assert row.tobytes() == again.tobytes()
