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
from sim.design.hardware import Fit, hardware
from sim.series.compare import Progress, compare
from sim.series.comparison import Comparison
from sim.series.fault_cells import Variant, summarised
from sim.series.fault_row import FAULT_ROW
from sim.series.grid import Grid, Rows, chosen
from sim.series.plugins import Plugin
from sim.series.worker import Kind

SOUND: Final = "none"
"""The name of no fault."""
FAULT_RUNS: Final = Kind("sim.series.fault_runs", FAULT_ROW, "runs with faults")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What is asked of the fault series; None takes all."""

    faults: Sequence[str] | None = None
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
    faults = chosen(ask.faults, [tuple(FAULTS)], "fault")[0]
    fits = hardware(scenario)
    guards = chosen(ask.guards, [(*GUARDS, *fits)], "guard")[0]
    fitted = {name: fits[name][0] for name in guards if name in fits}
    variants = [Variant(fault, fit) for fault in (SOUND, *faults) for fit in hardware_sets(fitted)]
    rigs = [_rig(scenario, variant, fitted) for variant in variants]
    names = [name for name in guards if name in GUARDS]

    def summarise(grid: Grid, rows: Rows, seed: Any) -> dict[str, Any]:
        return summarised(scenario.name, grid, rows, seed, variants, names)

    strategies = ask.strategies or (scenario.strategies[0].name,)
    return compare(
        rigs, strategies=strategies, strings=ask.strings, specimens=ask.specimens, tunings=ask.tunings, seed=ask.seed,
        jobs=ask.jobs, executor=ask.executor, plugins=ask.plugins, out=ask.out, resume=ask.resume, progress=progress,
        summarise=summarise, kind=FAULT_RUNS,
    )  # fmt: skip


def hardware_sets(names: Mapping[str, Fit]) -> list[tuple[str, ...]]:
    """Return every set of protections that some cell asks for: none, each alone, all, and all but one."""
    every = tuple(names)
    sizes = sorted({0, 1, len(every) - 1, len(every)} & set(range(len(every) + 1)))
    return [each for size in sizes for each in combinations(every, size)]


def _rig(scenario: Scenario, variant: Variant, fits: Mapping[str, Fit]) -> Scenario:
    for name in variant.hardware:
        scenario = fits[name](scenario)
    faults = dict(scenario.faults)
    if variant.fault != SOUND:
        faults[variant.fault] = Part(f"faults.{variant.fault}", resolve(FAULTS, variant.fault), {}, {})
    return replace(scenario, faults=faults, name=variant.name())
