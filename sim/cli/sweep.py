"""``pegloop sweep``: which value of a key to take, and how far it may be off."""

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.loading import repeating
from sim.cli.progress import Progress
from sim.cli.screen import Screen
from sim.cli.series import crashes, refusing, workers
from sim.cli.settings import loader, size_of

if TYPE_CHECKING:
    from sim.series.comparison import Comparison
    from sim.series.sweep_axis import Axis


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Sweep one or two keys, or search; 1 when no setting meets what is required, 3 when a run crashed."""
    with refusing(args):
        if args.best:
            from sim.cli.sweep_best import search_and_tell

            return search_and_tell(args, screen)
        return _sweep(args, screen)


def _sweep(args: argparse.Namespace, screen: Screen) -> int:
    from sim.series.sweep import idle, see_possible, settings, sweep
    from sim.series.sweep_axis import parse_axes
    from sim.series.sweep_keys import numeric_keys

    source = loader(args)
    plain = source(())
    axes, size = parse_axes(args.vary, numeric_keys(plain), most=2), size_of(args)
    scenarios = settings(source, axes)
    see_possible(scenarios)
    for key in idle(scenarios, axes, size):
        screen.talk(f"{key}: changed no run in a first trial of two machines; it may not matter here")
    with Progress(screen) as progress, workers(args) as place:
        found = sweep(scenarios, axes, replace(size, **place), usual=plain.require is None, progress=progress)
    if args.json:
        screen.json(found.summary)
    else:
        _show(found, screen)
    if args.out:
        _hand_over(found, axes, args, screen)
    return _code(found, screen)


def _code(found: "Comparison", screen: Screen) -> int:
    if crashes(found, screen):
        return 3
    return 0 if any(one["all"]["recommended"] is not None for one in found.summary["answers"]) else 1


def _show(found: "Comparison", screen: Screen) -> None:
    from sim.views.page import CAUTION, CHANCE
    from sim.views.sweep import tables
    from sim.views.sweep_page import notes, sentences

    for table in tables(found.summary):
        screen.table(table)
    for sentence in sentences(found.summary):
        screen.say(f"- {sentence}")
    screen.say()
    for line in (*notes(found.summary), CHANCE, f"Caution: {CAUTION}"):
        screen.say(line)


def _hand_over(found: "Comparison", axes: "Sequence[Axis]", args: argparse.Namespace, screen: Screen) -> None:
    from sim.series.files import write_aside
    from sim.views.plots.sweep import draw
    from sim.views.sweep_page import sweep_page

    folder = Path(args.out)
    write_aside(folder / "findings.md", sweep_page(found.summary, repeating(args.words)))
    draw(found.summary, folder)
    screen.talk(f"wrote {folder}: findings.md, runs.csv, summary.json, manifest.json, plots")
