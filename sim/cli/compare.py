"""``pegloop compare``: strategies and rigs over many machines, on the same draws."""

import argparse
import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.loading import load, plugins, repeating
from sim.cli.progress import Progress
from sim.cli.refused import Refused, unknown
from sim.cli.screen import Screen
from sim.cli.series import crashes, refusing, workers

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.series.comparison import Comparison
    from sim.views.tables import Hertz, Limits, Table

Sources = Sequence["Scenario | Path"]


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Compare, show, and judge: 1 when a verdict failed, 3 when a run crashed."""
    if args.order and not args.session:
        raise Refused("--order: only a session has an order; add --session")
    if args.strings and args.session:
        raise Refused("--strings: a session tunes all strings; leave it out, or name them in [instrument] strings")
    sources = [_source(rig, args) for rig in args.rigs or ("default",)]
    rigs = [each for each in sources if not isinstance(each, Path)]
    _known(args, rigs if len(rigs) == len(sources) else [])
    with refusing(args):
        if args.fail_if and rigs:
            _judged(args.fail_if, _compared(args, rigs, specimens=1, tunings=1).summary)  # a slip, before the wait
        comparison = _watched(args, sources, screen)
    if args.json:
        screen.json(comparison.summary)
    else:
        _show(comparison, rigs, args, screen)
    if args.out:
        _hand_over(comparison, rigs, args, screen)
    return _verdict(comparison, args, screen)


def _source(rig: str, args: argparse.Namespace) -> "Scenario | Path":
    return Path(rig) if Path(rig).is_dir() else load(rig, args)


def _known(args: argparse.Namespace, rigs: "Sequence[Scenario]") -> None:
    """Refuse strategies and strings that no rig has; ``all`` strings means all."""
    if args.strings == ("all",):
        args.strings = None
    strategies = dict.fromkeys(strategy.name for rig in rigs for strategy in rig.strategies)
    strings = dict.fromkeys(string for rig in rigs for string in rig.strings)
    for asked, known, what in ((args.strategies, strategies, "strategy"), (args.strings, strings, "string")):
        for name in asked or () if rigs else ():
            if name not in known:
                raise unknown(what, name, list(known))


def _compared(args: argparse.Namespace, sources: Sources, **options: Any) -> "Comparison":
    from sim.series.compare import compare

    choice = {"strategies": args.strategies, "strings": args.strings, "seed": args.seed, "plugins": plugins(args)}
    return compare(sources, **choice, **options)


def _watched(args: argparse.Namespace, sources: Sources, screen: Screen) -> "Comparison":
    with Progress(screen) as progress, workers(args) as place:
        return _compared(
            args, sources, specimens=args.specimens, tunings=args.tunings, out=args.out, resume=args.resume,
            progress=progress, **place,
        )  # fmt: skip


def _judged(expression: str, summary: dict[str, Any]) -> bool:
    from sim.series.verdict import holds

    try:
        return holds(expression, summary)
    except ValueError as error:
        raise Refused(f"--fail-if: {error}") from None


def _verdict(comparison: "Comparison", args: argparse.Namespace, screen: Screen) -> int:
    if crashes(comparison, screen):
        return 3
    if args.fail_if and _judged(args.fail_if, comparison.summary):
        screen.talk(f"--fail-if {args.fail_if}: true")
        return 1
    return 1 if any(line["verdict"] == "fails" for line in comparison.summary["require"]) else 0


def _tables(comparison: "Comparison", rigs: "Sequence[Scenario]") -> "list[Table]":
    from sim.views.tables import of_comparison

    references = {rig.setting.nominal().a4_hz for rig in rigs}
    return of_comparison(
        comparison.summary, _limits(comparison), _hertz(rigs), references.pop() if len(references) == 1 else None
    )


def _limits(comparison: "Comparison") -> "Limits":
    return {rig.name: (rig.pluck_limit, rig.time_limit_s) for rig in comparison.grid.rigs}


def _hertz(rigs: "Sequence[Scenario]") -> "Hertz":
    from sim.design.facts import describe

    found: dict[str, set[float]] = {}
    for facts in (each for rig in rigs for each in describe(rig)):
        found.setdefault(facts.string, set()).add(facts.target_hz)
    return {string: targets.pop() for string, targets in found.items() if len(targets) == 1}


def _show(comparison: "Comparison", rigs: "Sequence[Scenario]", args: argparse.Namespace, screen: Screen) -> None:
    from sim.views.page import CAUTION, CHANCE

    summary = comparison.summary
    for table in _tables(comparison, rigs):
        screen.table(table)
    for sentence in comparison.sentences():
        screen.say(f"- {sentence}")
    screen.say()
    files = [rig for rig in args.rigs or ("default",) if not Path(rig).is_dir()]
    ear = " --ear signal" if args.ear == "signal" else ""
    where = ", ".join(f"pegloop check {shlex.quote(rig)}{ear}" for rig in files) or "--json"
    screen.say(f"{len(summary['assumed'])} values were assumed; all of them: {where}")
    screen.say(CHANCE)
    screen.say(f"Caution: {CAUTION}")


def _hand_over(comparison: "Comparison", rigs: "Sequence[Scenario]", args: argparse.Namespace, screen: Screen) -> None:
    from sim.views.page import findings
    from sim.views.plots.comparison import draw

    folder = Path(args.out)
    tasks = [
        f"{rig.name}: {rig.instrument}, within {rig.task.tolerance_cents:g} cents, at most {rig.task.pluck_limit} "
        f"plucks and {rig.task.time_limit_s:g} s a string."
        for rig in rigs
    ]
    page = findings(comparison.summary, comparison.sentences(), _tables(comparison, rigs), tasks, repeating(args.words))
    aside = folder / ".findings.md"
    aside.write_text(page, encoding="utf-8", newline="\n")
    aside.replace(folder / "findings.md")
    draw(comparison, folder)
    screen.talk(f"wrote {folder}: findings.md, runs.csv, summary.json, manifest.json, plots")
