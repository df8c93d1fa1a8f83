"""How often a healthy rig breaks a string by the noise of its ear alone, down to shares that plain runs never see.

Law: ``P = mean(w 1[broken])`` over runs drawn from a proposal; relative error ``std(w 1) / (P sqrt n)``; the interval
is that of ``log P``. Two proposals that go about it differently, and plain runs, each on machines of its own.

Fails when: strings break in ways that normals do not show: octave errors keep their own chance, unhelped.

Source: Owen, Monte Carlo theory, methods and examples, chapter 9 (from memory).
"""

import math
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

import numpy as np

from models.hearing.statistical import StatisticalEar
from scenarios.schema import Scenario
from sim.design.clamp import Clamp, clamp
from sim.evaluate import Bench
from sim.loop import simulate
from sim.plan import plan
from sim.seeds import Streams, run_key
from sim.series.row import Item
from sim.series.statistics import CONFIDENCE, Floats, Interval, wilson, z_of, zero_bound
from sim.series.tilted import KINDS, Proposal, TiltedChance, spread_of
from sim.trace import Outcome

ENOUGH: Final = 10.0  # effective runs (common practice: a relative error of a third)


@dataclass(frozen=True, slots=True)
class Estimate:
    """The probability that a run breaks the string, by one proposal."""

    proposal: str
    runs: int
    broke: int
    """Runs that broke the string: most of them would not have without the proposal."""
    probability: float
    low: float
    high: float
    """A 95 % interval; after no break at all the one-sided bound that the runs allow."""
    relative_error: float
    """Standard error over probability; infinite where nothing broke."""
    effective_runs: float
    """How many breaks of equal weight would tell as much: ``(sum w)^2 / sum w^2`` over runs that broke."""

    @property
    def resolved(self) -> bool:
        """Whether enough runs broke for the interval to be trusted: a few of great weight may be missing otherwise."""
        return self.effective_runs >= ENOUGH


@dataclass(frozen=True, slots=True)
class Rare:
    """Breaking of a healthy but noisy rig, conditional on the noise model."""

    string: str
    strategy: str
    clamp: Clamp | None
    """What the largest move forbids; None where that cannot be told."""
    estimates: tuple[Estimate, ...]
    """By plain runs and by each proposal; empty where the clamp forbids breaking."""

    @property
    def unreachable(self) -> bool:
        """Whether no reading whatever breaks the string within a run."""
        return self.clamp is not None and self.clamp.forbids_all

    @property
    def best(self) -> Estimate | None:
        """The resolved estimate with the smallest relative error; None where there is none."""
        resolved = [one for one in self.estimates if one.resolved]
        return min(resolved, key=lambda one: one.relative_error, default=None)

    @property
    def agree(self) -> bool:
        """Whether the intervals of all resolved estimates meet."""
        resolved = [one for one in self.estimates if one.resolved]
        return all(one.low <= other.high and other.low <= one.high for one, other in combinations(resolved, 2))


def rare(scenario: Scenario, strategy: str, string: str, seed: int = 1, runs: int = 1000) -> Rare:
    """Return how often runs of a rig without its faults break a string; ``runs`` machines for each proposal.

    Raises ``KeyError`` for a strategy or a string that the scenario lacks, ``ValueError`` for another than the
    statistical ear: the noise of a signal has no few normals to tilt.
    """
    strategies = {each.name: each for each in scenario.strategies}
    if strategy not in strategies or string not in scenario.strings:
        raise KeyError(strategy if strategy not in strategies else string)
    if scenario.ear != "statistical":
        raise ValueError(f"rare breaking: the ear is {scenario.ear!r}; allowed: 'statistical'")
    sound = replace(scenario, faults={})
    found = clamp(sound, strategies[strategy], string)
    if found is not None and found.forbids_all:
        return Rare(string, strategy, found, ())
    runner = _Runner(sound, strategy, string, seed)
    return Rare(string, strategy, found, tuple(runner.estimate(name, runs) for name in KINDS))


class _Runner:
    """Runs of one strategy on one string."""

    def __init__(self, scenario: Scenario, strategy: str, string: str, seed: int) -> None:
        place = [each.name for each in scenario.strategies].index(strategy)
        self._item = Item(0, place, tuple(scenario.strings).index(string), 0, 0)
        self._plan = plan(scenario, scenario.strategies[place], string)
        self._readings = scenario.task.pluck_limit * self._plan.driving.readings_per_pluck
        self._bench, self._streams, self._string = Bench((scenario,), seed), Streams(seed), string

    def estimate(self, name: str, runs: int) -> Estimate:
        """Return the estimate of one proposal, on machines that no other proposal has."""
        first, proposal = list(KINDS).index(name) * runs, Proposal(name, self._readings)
        weights = [self._weight_if_broken(proposal, machine) for machine in range(first, first + runs)]
        return estimated(name, np.array(weights), proposal.most)

    def _weight_if_broken(self, proposal: Proposal, specimen: int) -> float:
        item = replace(self._item, specimen=specimen)
        rig = self._bench.rig(item)
        assert isinstance(rig.ear, StatisticalEar)
        mine, spread = proposal.at(self._streams.uniform("tilt", specimen)), spread_of(rig.ear)
        chance = TiltedChance(self._streams, self._string, run_key(specimen, 0), proposal, mine, spread)
        record = simulate(rig, self._plan, rig.begins(self._bench.start_cents(item)), chance)
        return chance.weight() if record.outcome is Outcome.STRING_BROKE else 0.0


def estimated(proposal: str, weights: Floats, most: float) -> Estimate:
    """Return the estimate from one weight a run, 0 where the event did not happen; none can exceed ``most``."""
    runs, happened = len(weights), int(np.count_nonzero(weights))
    probability = float(weights.mean())
    if not happened:
        return Estimate(proposal, runs, 0, 0.0, 0.0, min(1.0, most * zero_bound(runs)), math.inf, 0.0)
    relative = float(weights.std(ddof=1)) / (probability * math.sqrt(runs))
    interval = wilson(happened, runs) if most == 1.0 else _about(probability, relative)
    assert interval.low is not None and interval.high is not None
    effective = float(weights.sum() ** 2 / np.sum(weights**2))
    return Estimate(proposal, runs, happened, probability, interval.low, interval.high, relative, effective)


def _about(probability: float, relative: float) -> Interval:
    factor = math.exp(z_of(CONFIDENCE) * relative)
    return Interval(probability / factor, min(1.0, probability * factor))
