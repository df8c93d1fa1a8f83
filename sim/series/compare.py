"""Compares strategies and rigs on the same specimens: new runs, and result folders in place of rigs."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from contextlib import nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from scenarios.schema import Scenario
from sim.design.refusals import refusals
from sim.seeds import Seed, number_of
from sim.series.comparison import Comparison
from sim.series.execute import execute
from sim.series.grid import Grid, Missing, RigFacts, Rows, Sheet, chosen
from sim.series.journal import BLOCK
from sim.series.plugins import Plugin
from sim.series.store import Results, Store, StoreError, read_results, versions
from sim.series.summary import summarise
from sim.series.worker import RUNS, Kind

__all__ = ["Comparison", "compare"]

Progress = Callable[[int, int], None]
"""Called with the runs done and the runs in all."""
Summarise = Callable[[Grid, Rows, int], dict[str, Any]]
"""Grid, all rows in run order and seed to the summary."""


def compare(
    scenarios: Sequence[Scenario | str | Path],
    *,
    strategies: Sequence[str] | None = None,
    strings: Sequence[str] | None = None,
    specimens: int = 40,
    tunings: int = 3,
    seed: Seed = 1,
    jobs: int | None = None,
    out: str | Path | None = None,
    resume: bool = False,
    progress: Progress | None = None,
    executor: Executor | None = None,
    plugins: Sequence[Plugin] = (),
    known: Rows | None = None,
    summarise: Summarise = summarise,
    kind: Kind = RUNS,
) -> Comparison:
    """Run every strategy on every string of ``specimens`` machines, ``tunings`` times each, and compare.

    A path stands for the result folder of an earlier comparison, whose seed, specimens and tunings then hold for all.
    ``strategies`` and ``strings`` choose by name, in that order; None takes all. With ``out`` everything is kept in a
    folder that ``resume`` goes on with. Rows do not depend on ``jobs`` or ``executor`` (see ``execute``). ``known`` are
    rows of the same runs that need not be made again, ``summarise`` says what is to be found in all rows, ``kind`` what
    is asked of each run.

    Raises ``ValueError`` for names that no rig has, strategies that a motor cannot follow and numbers below 1,
    ``StoreError`` for a folder that cannot serve.
    """
    if not scenarios or min(specimens, tunings) < 1:
        raise ValueError("a comparison needs a rig, a specimen and a tuning, at least")
    results = {place: read_results(Path(one)) for place, one in enumerate(scenarios) if not isinstance(one, Scenario)}
    if results:
        seed, specimens, tunings = _held_in_common(list(results.values()))
    entries = _entries(scenarios, results)
    grid = Grid(_chosen([entry.facts for entry in entries], strategies, strings), specimens, tunings)
    _see_followed(entries, grid)
    plugins = tuple(plugins)
    with Store(Path(out), grid, seed, plugins, resume, kind.name) if out is not None else nullcontext() as store:
        sheet = Sheet(grid, None if out is None else Path(out), kind.dtype)
        for place, entry in enumerate(entries):
            if entry.rows is not None:
                sheet.put(_moved(entry.rows, place))
        if known is not None:
            sheet.put(known)
        _keep(store, sheet)
        _fill(entries, sheet, seed, _Options(jobs, executor, plugins, store, progress, kind))
        summary = summarise(grid, sheet.rows, number_of(seed))
        if store is not None:
            store.complete(sheet.rows, summary)
    return Comparison(grid, sheet.rows, summary)


@dataclass(frozen=True, slots=True)
class _Entry:
    """One rig of the series: a scenario to run, or rows that were read back."""

    facts: RigFacts
    scenario: Scenario | None
    rows: Rows | None


@dataclass(frozen=True, slots=True)
class _Options:
    jobs: int | None
    executor: Executor | None
    plugins: tuple[Plugin, ...]
    store: Store | None
    progress: Progress | None
    kind: Kind


def _held_in_common(results: Sequence[Results]) -> tuple[int, int, int]:
    """Return seed, specimens and tunings of result folders, which must agree."""
    held = {(one.seed, one.grid.specimens, one.grid.tunings) for one in results}
    if len(held) > 1:
        raise StoreError(f"result folders differ in (seed, specimens, tunings): {sorted(held)}; run them alike")
    here = versions()["pegloop"]
    for one in results:
        if one.manifest["versions"]["pegloop"] != here:
            raise StoreError(f"a result folder is of version {one.manifest['versions']['pegloop']}, this is {here}")
    return held.pop()


def _entries(scenarios: Sequence[Scenario | str | Path], results: dict[int, Results]) -> list[_Entry]:
    """Return the rigs in order, under names that differ."""
    entries = []
    for place, one in enumerate(scenarios):
        if isinstance(one, Scenario):
            entries.append(_Entry(RigFacts.of(one), one, None))
        else:
            entries += _read_back(results[place])
    names = [entry.facts.name for entry in entries]
    counts = [names[: place + 1].count(name) for place, name in enumerate(names)]
    return [
        replace(entry, facts=replace(entry.facts, name=f"{entry.facts.name} ({count})")) if count > 1 else entry
        for entry, count in zip(entries, counts, strict=True)
    ]


def _read_back(results: Results) -> list[_Entry]:
    rows = results.rows
    return [_Entry(facts, None, rows[rows["rig"] == place]) for place, facts in enumerate(results.grid.rigs)]


def _chosen(
    facts: Sequence[RigFacts], strategies: Sequence[str] | None, strings: Sequence[str] | None
) -> tuple[RigFacts, ...]:
    names = chosen(strategies, [rig.chosen_strategies for rig in facts], "strategy")
    tuned = chosen(strings, [rig.chosen_strings for rig in facts], "string")
    return tuple(
        replace(rig, chosen_strategies=mine, chosen_strings=its)
        for rig, mine, its in zip(facts, names, tuned, strict=True)
    )


def _see_followed(entries: Sequence[_Entry], grid: Grid) -> None:
    """Raise ``ValueError`` when a chosen strategy gives commands that its rig's motor does not accept."""
    for entry, facts in zip(entries, grid.rigs, strict=True):
        cannot = (
            () if entry.scenario is None else refusals(entry.scenario, facts.chosen_strategies, facts.chosen_strings)
        )
        if cannot:
            raise ValueError(f"{facts.name}: {'; '.join(cannot)}")


def _moved(rows: Rows, rig: int) -> Rows:
    """Return rows as those of another place among the rigs."""
    moved = rows.copy()
    moved["rig"] = rig
    return moved


def _keep(store: Store | None, sheet: Sheet) -> None:
    """Bring journal and sheet to the same rows: those read back from elsewhere, and those of earlier sessions."""
    if store is None:
        return
    unwritten = sheet.known.copy()
    for rows in store.finished(sheet.rows.dtype):
        unwritten[sheet.put(rows)] = False
    for first in range(0, len(unwritten), BLOCK):
        block = slice(first, first + BLOCK)
        store.append(sheet.rows[block][unwritten[block]])


def _fill(entries: Sequence[_Entry], sheet: Sheet, seed: Seed, options: _Options) -> None:
    """Run what is missing."""
    places = [place for place, entry in enumerate(entries) if entry.scenario is not None]
    scenarios = tuple(entry.scenario for entry in entries if entry.scenario is not None)
    total, done = len(sheet.grid), sheet.done()

    def take(rows: Rows) -> None:
        nonlocal done
        rows["rig"] = np.array(places)[rows["rig"]]
        if options.store is not None:
            options.store.append(rows)
        sheet.put(rows)
        done += len(rows)
        if options.progress is not None:
            options.progress(done, total)

    items = Missing(sheet, places)
    execute(
        scenarios, items, seed, take=take, jobs=options.jobs, executor=options.executor, plugins=options.plugins,
        kind=options.kind,
    )  # fmt: skip
