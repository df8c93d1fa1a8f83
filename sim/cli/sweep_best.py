"""``pegloop sweep --best``: the best value of a measure, by search."""

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from sim.cli.progress import Progress
from sim.cli.screen import Screen
from sim.cli.series import crashes, workers
from sim.cli.settings import loader, size_of

if TYPE_CHECKING:
    from sim.series.comparison import Comparison


def search_and_tell(args: argparse.Namespace, screen: Screen) -> int:
    """State the budget, search, and show the winner; 1 when it fails what is required, 3 when a run crashed."""
    from sim.series.files import to_json, write_aside
    from sim.series.sweep import chosen_strategies, see_possible, setting, usual_of
    from sim.series.sweep_axis import parse_axes
    from sim.series.sweep_best import MOST_KEYS, budget, first_settings, measure_of, search
    from sim.series.sweep_judge import stopping
    from sim.series.sweep_keys import numeric_keys
    from sim.views.sweep_best import stated

    source = loader(args)
    plain = source(())
    axes = parse_axes(args.vary, numeric_keys(plain), most=MOST_KEYS, counted=False)
    measure, size, usual = measure_of(args.best), size_of(args), usual_of(source)
    see_possible([setting(source, axes, [axis.at(share) for axis in axes], usual) for share in (0.0, 1.0)])
    settings = first_settings(axes, size.seed)
    each = len(plain.strings) * len(chosen_strategies(axes, size.strategies) or plain.strategies) * size.tunings
    screen.talk(stated(budget(len(settings), size.specimens, each), len(settings), measure))
    with Progress(screen) as progress, workers(args) as place:
        found = search(source, axes, replace(size, **place), measure, progress=progress)
    _tell(found, args, screen)
    if size.out:
        write_aside(size.out / "search.json", to_json(found.summary))
        screen.talk(f"wrote {size.out}: search.json, and a folder for each round and for the winner")
    return 3 if crashes(found, screen) else 1 if stopping(found.summary["missed"]) else 0


def _tell(found: "Comparison", args: argparse.Namespace, screen: Screen) -> None:
    from sim.views.page import CAUTION, CHANCE
    from sim.views.sweep_best import sentences, tables

    if args.json:
        screen.json(found.summary)
        return
    for table in tables(found.summary):
        screen.table(table)
    for sentence in sentences(found.summary):
        screen.say(f"- {sentence}")
    screen.say()
    for line in (CHANCE, f"Caution: {CAUTION}"):
        screen.say(line)
