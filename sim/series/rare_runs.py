"""One run under a proposal as a row: what it weighs if it broke the string. The tuning of an item is its proposal."""

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from models.hearing.statistical import StatisticalEar
from scenarios.schema import Scenario
from sim.evaluate import OUTCOMES, bench_of
from sim.loop import simulate
from sim.seeds import Seed, run_key
from sim.series.row import MEASURES, Item
from sim.series.tilted import KINDS, Proposal, TiltedChance, spread_of
from sim.series.worker import Kind
from sim.trace import Outcome

APART: Final = 100_000_000  # first machine of a proposal after that of the one before
RARE_RUNS: Final = Kind("sim.series.rare_runs", np.dtype([*MEASURES[:6], ("weight", np.float64)]), "weighed runs")


def machine(proposal: str, run: int) -> int:
    """Return the machine of a run of a proposal: no other proposal has it."""
    return list(KINDS).index(proposal) * APART + run


def evaluate(scenarios: Sequence[Scenario], item: Item, seed: Seed) -> tuple[Any, ...]:
    """Run one item and return its row: its weight, 0 where the string held, nan where it crashed."""
    bench, scenario = bench_of(scenarios, seed), scenarios[item.rig]
    string, drawn = tuple(scenario.strings)[item.string], Item(item.rig, item.strategy, item.string, item.specimen, 0)
    rig, planned = bench.rig(drawn), bench.plan(drawn)
    assert isinstance(rig.ear, StatisticalEar)
    readings, spread = scenario.task.pluck_limit * planned.driving.readings_per_pluck, spread_of(rig.ear)
    proposal = Proposal(list(KINDS)[item.tuning], readings, spread.gross)
    mine = proposal.at(bench.streams.uniform("tilt", item.specimen))
    chance = TiltedChance(bench.streams, string, run_key(item.specimen, 0), proposal, mine, spread)
    record = simulate(rig, planned, rig.begins(bench.start_cents(drawn)), chance)
    weight = chance.weight() if record.outcome is Outcome.STRING_BROKE else 0.0
    weight = math.nan if record.outcome is Outcome.CRASHED else weight
    place = (item.rig, item.strategy, item.string, item.specimen, item.tuning)
    return (*place, OUTCOMES[record.outcome], weight)
