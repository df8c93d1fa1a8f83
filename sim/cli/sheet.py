"""``pegloop sheet``: can the machine work at all, before any run."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.loading import empty_folder, load, repeating
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.design.whole import Whole

Reasons = tuple[str, ...]
"""Why a rig cannot be run."""


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Show the design sheet of a rig; 1 when something does not fit or cannot be run."""
    from sim.design.refusals import refusals
    from sim.design.whole import whole
    from sim.views.sheet_page import as_data

    scenario = load(args.rig, args)
    folder = empty_folder(args.out) if args.out else None
    cannot, found = refusals(scenario), whole(scenario)
    if args.json:
        screen.json(as_data(found, scenario, cannot))
    else:
        _tell(scenario, found, cannot, screen)
    if folder:
        _write(scenario, found, cannot, repeating(args.words), folder)
        screen.talk(f"wrote {folder}: sheet.md, sheet.json, three plots as SVG and PNG")
    elif not args.json:
        screen.talk("As a page with pictures: add --out DIR")
    return 1 if cannot or not found.fits() else 0


def _tell(scenario: "Scenario", found: "Whole", cannot: Reasons, screen: Screen) -> None:
    from sim.views.budget import COMBINED
    from sim.views.page import CAUTION
    from sim.views.sheet import JUDGED
    from sim.views.sheet_page import findings, tables

    for table in tables(found, scenario):
        screen.table(table)
    for line in cannot:
        screen.say(f"cannot run: {line}", "bold red")
    for line in findings(found):
        screen.say(f"- {line}")
    screen.say()
    screen.say(JUDGED)
    screen.say(COMBINED)
    screen.say(f"{len(scenario.assumed)} values were assumed; all of them: pegloop check {scenario.name}")
    screen.say(f"Caution: {CAUTION}")


def _write(scenario: "Scenario", found: "Whole", cannot: Reasons, command: str, folder: Path) -> None:
    from sim.series.files import to_json, write_aside
    from sim.views.plots.design import draw
    from sim.views.sheet_page import as_data, sheet_page

    write_aside(folder / "sheet.md", sheet_page(found, scenario, cannot, command))
    write_aside(folder / "sheet.json", to_json(as_data(found, scenario, cannot)))
    draw(found.sheet.facts, found.budgets, scenario.task.tolerance_cents, folder)
