"""``pegloop hear`` without a mode: detectors on simulated plucks of each string, and what would help."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.loading import chosen, empty_folder, load, own_detectors
from sim.cli.refused import Refused
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.hearing.study import Study


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Measure, tell, and write with ``--out``."""
    from sim.hearing.study import plain

    scenario = load(args.rig, args)
    folder = empty_folder(args.out) if args.out else None
    study = _study(scenario, args)
    if args.json:
        screen.json(plain(study))
    else:
        _tell(study, screen)
    if folder:
        _write(study, folder, screen)
    elif not args.json:
        screen.talk("As pictures: add --out DIR")
    return 0


def _study(scenario: "Scenario", args: argparse.Namespace) -> "Study":
    from sim.hearing.bench import hear
    from sim.hearing.candidates import DetectorFailed, known_names

    kinds = own_detectors(args)
    names = args.detectors and chosen(args.detectors, known_names(kinds), "detector")
    strings = chosen(args.strings, scenario.strings, "string")
    try:
        return hear(scenario, detectors=names, kinds=kinds, strings=strings, seed=args.seed, detailed=bool(args.out))
    except DetectorFailed as error:
        raise Refused(f"--detector {error}") from error


def _tell(study: "Study", screen: Screen) -> None:
    from sim.views.hearing import notes, tables
    from sim.views.page import CHANCE

    screen.say(f"{study.rig}, seed {study.seed}", "bold")
    for table in tables(study):
        screen.table(table)
    for line in (*study.remarks, *study.advice, *notes(study), CHANCE):
        screen.say(line)


def _write(study: "Study", folder: Path, screen: Screen) -> None:
    from sim.hearing.study import plain
    from sim.series.files import to_json, write_aside
    from sim.views.plots.hearing import draw

    write_aside(folder / "hear.json", to_json(plain(study)))
    draw(study, folder)
    screen.talk(f"wrote {folder}: hear.json, six plots as SVG and PNG")
