"""The fault series: every fault against no guard, each guard alone, all, hardware only, and all but one."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any, Final

from controllers.guards import GUARDS
from models.component import resolve
from models.faults import FAULTS
from scenarios.schema import Part, Scenario
from sim.design.guard_refusals import guard_refusals, lacking, twice
from sim.design.hardware import Fit, hardware, needless
from sim.series.compare import Progress, compare
from sim.series.comparison import Comparison
from sim.series.fault_cells import SOUND, Variant, together
from sim.series.fault_row import FAULT_ROW, STOPPERS
from sim.series.fault_summary import summarised
from sim.series.grid import Grid, Rows, chosen
from sim.series.plugins import Plugin
from sim.series.worker import Kind

FAULT_RUNS: Final = Kind("sim.series.fault_runs", FAULT_ROW, "runs with faults")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What is asked of the fault series; None takes all."""

    faults: Sequence[str] | None = None
    """Several at once are joined by a plus."""
    guards: Sequence[str] | None = None
    """Electronic guards and hardware."""
    strategies: Sequence[str] | None = None
    strings: Sequence[str] | None = None
    specimens: int = 100
    tunings: int = 1
    seed: int = 1
    jobs: int | None = None
    executor: Executor | None = None
    plugins: tuple[Plugin, ...] = ()
    out: Path | None = None
    resume: bool = False


def fault_series(scenario: Scenario, ask: Ask, progress: Progress | None = None) -> Comparison:
    """Run the series and return it; its summary holds the cells. Raises ``ValueError`` for names that nobody knows."""
    faults = tuple(FAULTS) if ask.faults is None else tuple(dict.fromkeys(ask.faults))
    chosen([each for fault in faults for each in together(fault)], [tuple(FAULTS)], "fault")
    fits = hardware(scenario)
    guards = chosen(ask.guards, [tuple(dict.fromkeys((*STOPPERS, *fits)))], "guard")[0]
    fitted = {name: fits[name][0] for name in guards if name in fits and name not in STOPPERS}
    variants = [Variant(fault, fit) for fault in (SOUND, *faults) for fit in hardware_sets(fitted)]
    bases = {fit: _fitted(scenario, fit, fitted) for fit in hardware_sets(fitted)}
    rigs = [defective(bases[variant.hardware], variant) for variant in variants]
    names = [name for name in guards if name in STOPPERS]
    _see_guarded(scenario, ask, names)

    def summarise(grid: Grid, rows: Rows, seed: Any) -> dict[str, Any]:
        return summarised(scenario.name, grid, rows, seed, variants, names)

    strategies = ask.strategies or (scenario.strategies[0].name,)
    return compare(
        rigs, strategies=strategies, strings=ask.strings, specimens=ask.specimens, tunings=ask.tunings, seed=ask.seed,
        jobs=ask.jobs, executor=ask.executor, plugins=ask.plugins, out=ask.out, resume=ask.resume, progress=progress,
        summarise=summarise, kind=FAULT_RUNS,
    )  # fmt: skip


def _see_guarded(scenario: Scenario, ask: Ask, names: Sequence[str]) -> None:
    """Raise ``ValueError`` when the rig cannot have a guard that was asked for, or one of its own cannot be tried."""
    asked = () if ask.guards is None else names
    absent = [lacking(scenario, name, ask.strings) for name in asked if name in GUARDS]
    absent += [f"found {name}; {why}" for name, why in needless(scenario).items() if name in asked]
    found = [*twice(scenario), *(f"--guards: {why}" for why in absent if why)]
    if cannot := [*found, *guard_refusals(scenario, scenario.strategies, ask.strings)]:
        raise ValueError("; ".join(cannot))


def hardware_sets(names: Mapping[str, Fit]) -> list[tuple[str, ...]]:
    """Return every set of protections that some cell asks for: none, each alone, all, and all but one."""
    every = tuple(names)
    sizes = sorted({0, 1, len(every) - 1, len(every)} & set(range(len(every) + 1)))
    return [each for size in sizes for each in combinations(every, size)]


def _fitted(scenario: Scenario, names: tuple[str, ...], fits: Mapping[str, Fit]) -> Scenario:
    for name in names:
        scenario = fits[name](scenario)
    # what the file gives was checked on the rig itself: hardware may well keep a limit from being reached
    guards = {name: replace(part, sources={}) for name, part in scenario.guards.items()}
    return replace(scenario, guards=guards)


def defective(scenario: Scenario, variant: Variant) -> Scenario:
    """Return a rig with the faults of a variant besides its own."""
    faults = dict(scenario.faults)
    for fault in together(variant.fault):
        faults[fault] = Part(f"faults.{fault}", resolve(FAULTS, fault), {}, {})
    return replace(scenario, faults=faults, name=variant.name())
