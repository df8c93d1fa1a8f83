"""``pegloop faults``: which single faults break a string, which guard stops each, and what is left."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.loading import chosen, load, plugins, repeating
from sim.cli.progress import Progress
from sim.cli.refused import Refused
from sim.cli.screen import Screen
from sim.cli.series import crashes, refusing, workers

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.series.comparison import Comparison


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Run every fault against every guard and show what holds; 3 when a run crashed."""
    scenario = load(args.rig, args)
    strategies = chosen(args.strategies, (each.name for each in scenario.strategies), "strategy")
    if args.rare:
        from sim.cli.rare import answer as told

        return told(scenario, strategies if args.strategies else strategies[:1], args, screen)
    with refusing(args):
        shown = _shown(args.show)
        found = _run(scenario, shown, args, screen)
    if args.json:
        screen.json(found.summary)
    elif shown:
        _tell(found.summary, shown, screen)
    else:
        _show(found.summary, scenario, screen)
    if args.out:
        pictures = _timeline(scenario, found, shown, args) if shown else _hand_over(found, scenario, args)
        screen.talk(f"wrote {args.out}: runs.csv, summary.json, manifest.json, {pictures}")
    elif shown and not args.json:
        screen.talk("Its worst run as a picture: add --out DIR")
    return 3 if crashes(found, screen) else 0


def _shown(text: str | None) -> tuple[str, str] | None:
    if text is None:
        return None
    fault, colon, guard = text.partition(":")
    if not (fault and colon and guard):
        raise Refused(f"--show: found {text!r}; allowed: FAULT:GUARD, such as stuck-reading:tightening-budget")
    return fault, guard


def _run(scenario: "Scenario", shown: tuple[str, str] | None, args: argparse.Namespace, screen: Screen) -> "Comparison":
    from sim.series.faults import Ask, fault_series

    with Progress(screen) as progress, workers(args) as place:
        ask = Ask(
            faults=[shown[0]] if shown else args.faults, guards=[shown[1]] if shown else args.guards,
            strategies=args.strategies, strings=args.strings, specimens=args.specimens, tunings=args.tunings,
            seed=args.seed, plugins=plugins(args), out=Path(args.out) if args.out else None, resume=args.resume,
            **place,
        )  # fmt: skip
        return fault_series(scenario, ask, progress)


def _show(found: dict[str, Any], scenario: "Scenario", screen: Screen) -> None:
    from sim.views.faults import ORDER, cautions, guards, matrix, nearest, rules, sentences
    from sim.views.page import CAUTION, CHANCE

    screen.table(matrix(found))
    screen.table(nearest(found))
    screen.table(guards(found))
    for sentence in sentences(found):
        screen.say(f"- {sentence}")
    screen.say()
    screen.say(f"Limits, here of {found['cells'][0]['string']}, derived from the rig", "bold")
    for rule in rules(found, scenario):
        screen.say(f"- {rule}")
    screen.say()
    screen.say("What no guard here takes away", "bold")
    for caution in cautions(scenario):
        screen.say(f"- {caution}")
    screen.say()
    for line in (ORDER, CHANCE, f"Caution: {CAUTION}"):
        screen.say(line)


def _tell(found: dict[str, Any], shown: tuple[str, str], screen: Screen) -> None:
    from sim.views.faults import told
    from sim.views.page import CAUTION, CHANCE

    screen.table(told(found, *shown))
    for line in (CHANCE, f"Caution: {CAUTION}"):
        screen.say(line)


def _timeline(scenario: "Scenario", found: "Comparison", shown: tuple[str, str], args: argparse.Namespace) -> str:
    """Draw the worst run without the guard and with it."""
    from sim.series.fault_shown import shown as runs
    from sim.views.plots.timeline import draw

    draw(runs(scenario, found, *shown, args.seed), Path(args.out))
    return "timeline as SVG and PNG"


def _hand_over(found: "Comparison", scenario: "Scenario", args: argparse.Namespace) -> str:
    from sim.series.files import write_aside, write_lines
    from sim.series.fmea import fmea
    from sim.series.summary import assumed
    from sim.views.fault_page import fault_page
    from sim.views.plots.faults import draw

    folder = Path(args.out)
    page = fault_page(found.summary, scenario, assumed(found.grid.rigs[:1]), repeating(args.words))
    write_aside(folder / "findings.md", page)
    write_lines(folder / "fmea.csv", fmea(found.summary, args.rig))
    draw(found.summary, folder)
    return "findings.md, fmea.csv, matrix and tension as SVG and PNG"
