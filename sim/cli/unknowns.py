"""``pegloop unknowns``: which unknown matters most, where to measure it, where money helps."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.loading import chosen, load, plugins, repeating
from sim.cli.progress import Progress
from sim.cli.refused import Refused
from sim.cli.screen import Screen
from sim.cli.series import crashes, refusing, workers
from sim.cli.settings import loader

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.series.comparison import Comparison


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Cross machines one unknown at a time and show what decides; 3 when a run crashed."""
    scenario, keys = _asked(args)
    strategies = chosen(args.strategies, (each.name for each in scenario.strategies), "strategy")
    with refusing(args):
        found = _run(scenario, keys, strategies if args.strategies else strategies[:1], args, screen)
    if args.json:
        screen.json(found.summary)
    else:
        _show(found.summary, scenario, screen)
    if args.out:
        _hand_over(found.summary, scenario, args, screen)
    return 3 if crashes(found, screen) else 0


def _asked(args: argparse.Namespace) -> "tuple[Scenario, tuple[str, ...]]":
    """Return the rig with the ranges of ``--vary``, and the keys to study."""
    from sim.series.sweep_axis import SweepError, parse_axes
    from sim.series.sweep_keys import numeric_keys
    from sim.series.unknowns import open_keys
    from sim.series.unknowns_streams import factor_of

    if not args.vary:
        scenario = load(args.rig, args)
        return scenario, _some(open_keys(scenario), args)
    source = loader(args)
    try:
        known = numeric_keys(source(()))
        axes = parse_axes(args.vary, known, most=len(known), counted=False)
        scenario = source(tuple(f"{axis.key}={{low={axis.values[0]!r},high={axis.values[-1]!r}}}" for axis in axes))
    except SweepError as error:
        raise Refused(str(error)) from None
    return scenario, tuple(dict.fromkeys(factor_of(axis.key) for axis in axes))


def _some(keys: tuple[str, ...], args: argparse.Namespace) -> tuple[str, ...]:
    if not keys:
        raise Refused(f"{args.rig} leaves nothing open; give ranges by --vary KEY=LOW:HIGH")
    return keys


def _run(
    scenario: "Scenario", keys: tuple[str, ...], strategies: tuple[str, ...], args: argparse.Namespace, screen: Screen
) -> "Comparison":
    from sim.series.unknowns import Asked, unknowns

    rows = max(2, 1 << (args.specimens - 1).bit_length())
    runs = rows * (len(keys) + 3) * len(scenario.strings) * args.tunings * len(strategies)
    screen.talk(f"{len(keys)} keys, {rows} rows of {len(keys) + 3} machines: {runs} runs")
    with Progress(screen) as progress, workers(args) as place:
        asked = Asked(
            strategies, rows, args.tunings, args.seed, plugins=plugins(args),
            out=Path(args.out) if args.out else None, resume=args.resume, **place,
        )  # fmt: skip
        return unknowns(scenario, keys, asked, progress)


def _show(found: dict[str, Any], scenario: "Scenario", screen: Screen) -> None:
    from sim.series.unknowns_words import sentences
    from sim.views.page import CAUTION, CHANCE
    from sim.views.unknowns import NOTE, tables

    for table in tables(found, scenario):
        screen.table(table)
    for sentence in sentences(found, scenario):
        screen.say(f"- {sentence}")
    screen.say()
    for line in (NOTE, CHANCE, f"Caution: {CAUTION}"):
        screen.say(line)


def _hand_over(found: dict[str, Any], scenario: "Scenario", args: argparse.Namespace, screen: Screen) -> None:
    from sim.series.files import write_aside
    from sim.views.plots.unknowns import draw
    from sim.views.unknowns import unknowns_page

    folder = Path(args.out)
    write_aside(folder / "findings.md", unknowns_page(found, scenario, repeating(args.words)))
    draw(found, folder)
    screen.talk(f"wrote {folder}: findings.md, runs.csv, summary.json, manifest.json, plots")
