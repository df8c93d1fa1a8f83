"""How often a healthy rig breaks a string by the noise of its ear alone, down to shares that plain runs never see.

Law: ``P = mean(w 1[broken])`` over runs drawn from a proposal; relative error ``std(w 1) / (P sqrt n)``; the interval
is that of ``log P``. Two proposals that go about it differently, and plain runs, each on machines of its own.

Fails when: strings break by more errors in a row than the longest tilt foresees: only a bound is told then.

Source: Owen, Monte Carlo theory, methods and examples, chapter 9 (from memory).
"""

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from itertools import combinations
from typing import Any, Final

import numpy as np

from scenarios.schema import Scenario
from sim.design.clamp import Clamp, clamp
from sim.series.execute import execute
from sim.series.grid import Rows
from sim.series.plugins import Plugin
from sim.series.rare_runs import RARE_RUNS, machine
from sim.series.row import Item
from sim.series.statistics import CONFIDENCE, Floats, Interval, wilson, z_of, zero_bound
from sim.series.tilted import DEFENCE, KINDS

ENOUGH: Final = 10.0  # effective runs (common practice: a relative error of a third)
WANTED: Final = 0.3  # relative error at which no more machines are drawn


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
    def at_most(self) -> float | None:
        """Bound at 95 % where no estimate is resolved and no string broke: the lowest; None elsewhere."""
        if any(one.broke for one in self.estimates):
            return None
        return min((one.high for one in self.estimates), default=None)

    def plain(self) -> dict[str, Any]:
        """Return it as in ``rare.json``; probabilities are per run, angles in degrees of the shaft."""
        found = {"unreachable": self.unreachable, "agree": self.agree, "at_most": self.at_most}
        estimates = [asdict(one) | {"resolved": one.resolved} for one in self.estimates]
        held = None if self.clamp is None else asdict(self.clamp)
        named = {"string": self.string, "strategy": self.strategy, "clamp": held}
        return named | found | {"best": self.best and self.best.proposal, "estimates": estimates}

    @property
    def agree(self) -> bool:
        """Whether the intervals of all resolved estimates meet."""
        resolved = [one for one in self.estimates if one.resolved]
        return all(one.low <= other.high and other.low <= one.high for one, other in combinations(resolved, 2))


Asked = tuple[str, str]
"""A strategy and a string."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How many machines are drawn, and where they run; the latter changes nothing in what is found."""

    runs: int = 1000
    """Machines of each proposal to begin with."""
    most: int | None = None
    """While strings break and no estimate is good enough machines are doubled up to this; None = never."""
    most_unbroken: int | None = None
    """The same while no string breaks."""
    jobs: int | None = 1
    """As of ``execute``."""
    executor: Executor | None = None
    plugins: tuple[Plugin, ...] = ()


def rare(scenario: Scenario, strategy: str, string: str, seed: int = 1, runs: int = 1000) -> Rare:
    """Return how often runs of one strategy on one string break it; see ``rares``."""
    return rares(scenario, [(strategy, string)], seed, Effort(runs=runs))[0]


def rares(scenario: Scenario, asked: Sequence[Asked], seed: int = 1, effort: Effort = Effort()) -> list[Rare]:
    """Return of strategies on strings how often runs of a rig without its faults break one.

    Raises ``KeyError`` for a strategy or a string that the scenario lacks, ``ValueError`` for another than the
    statistical ear, since the noise of a signal has no few normals to tilt, and where runs crash.
    """
    strategies = {each.name: each for each in scenario.strategies}
    for strategy, string in asked:
        if strategy not in strategies or string not in scenario.strings:
            raise KeyError(strategy if strategy not in strategies else string)
    if scenario.ear != "statistical":
        raise ValueError(f"rare breaking: the ear is {scenario.ear!r}; allowed: 'statistical'")
    sound = replace(scenario, faults={})
    clamps = {each: clamp(sound, strategies[each[0]], each[1]) for each in asked}
    reachable = [each for each, found in clamps.items() if found is None or not found.forbids_all]
    estimates = _Rounds(sound, reachable, seed, effort).estimates()
    return [Rare(each[1], each[0], clamps[each], estimates.get(each, ())) for each in asked]


class _Rounds:
    """Rounds of runs of all that is asked at once: each gives more machines to the estimates that need them."""

    def __init__(self, scenario: Scenario, asked: Sequence[Asked], seed: int, effort: Effort) -> None:
        self._scenario, self._seed, self._effort = scenario, seed, effort
        strategies, strings = [each.name for each in scenario.strategies], list(scenario.strings)
        ordered = sorted(asked, key=lambda each: (strategies.index(each[0]), strings.index(each[1])))  # that of rows
        keys = [(each, name) for each in ordered for name in KINDS]
        self._weights: dict[tuple[Asked, str], Floats] = {key: np.zeros(0) for key in keys}

    def estimates(self) -> dict[Asked, tuple[Estimate, ...]]:
        """Return the estimates of all proposals by what is asked."""
        while wanted := {key: more for key in self._weights if (more := self._more(key))}:
            self._draw(wanted)
        asked = dict.fromkeys(each for each, _ in self._weights)
        return {each: tuple(self._estimate((each, name)) for name in KINDS) for each in asked}

    def _estimate(self, key: tuple[Asked, str]) -> Estimate:
        return estimated(key[1], self._weights[key], 1.0 if key[1] == "plain" else 1.0 / DEFENCE)

    def _more(self, key: tuple[Asked, str]) -> int:
        """Return how many more machines an estimate needs: as many as it has, within its limit."""
        effort, have = self._effort, len(self._weights[key])
        if not have:
            return effort.runs
        found = self._estimate(key)
        most = (effort.most if found.broke else effort.most_unbroken) or effort.runs
        good = found.resolved and found.relative_error <= WANTED
        return 0 if good else max(0, min(have, most - have))

    def _draw(self, wanted: Mapping[tuple[Asked, str], int]) -> None:
        """Make runs and keep their weights in order, whatever the order in which they finish."""
        rows = self._run([item for key, more in wanted.items() for item in self._items(key, more)])
        first = 0
        for key, more in wanted.items():
            self._weights[key] = np.concatenate([self._weights[key], rows["weight"][first : first + more]])
            first += more

    def _run(self, items: list[Item]) -> Rows:
        parts: list[Rows] = []
        effort = self._effort
        execute(
            (self._scenario,), items, self._seed, take=parts.append, kind=RARE_RUNS, jobs=effort.jobs,
            executor=effort.executor, plugins=effort.plugins,
        )  # fmt: skip
        rows = np.concatenate(parts)
        if crashed := np.count_nonzero(np.isnan(rows["weight"])):
            raise ValueError(f"rare breaking: {crashed} of {len(rows)} runs crashed; pegloop run shows the error")
        return rows[np.lexsort([rows[name] for name in ("specimen", "tuning", "string", "strategy")])]

    def _items(self, key: tuple[Asked, str], more: int) -> list[Item]:
        (strategy, string), name = key
        place = [each.name for each in self._scenario.strategies].index(strategy)
        item = Item(0, place, tuple(self._scenario.strings).index(string), 0, list(KINDS).index(name))
        have = len(self._weights[key])
        return [replace(item, specimen=machine(name, have + run)) for run in range(more)]


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
