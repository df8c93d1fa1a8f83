"""``pegloop sheet``: can the machine work at all, before any run."""

import argparse
from typing import TYPE_CHECKING

from sim.cli.loading import load
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.design.sheet import Sheet


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Show the design sheet of a rig; 1 when something does not fit or cannot be run."""
    from sim.design.refusals import refusals
    from sim.design.sheet import design
    from sim.views.page import CAUTION
    from sim.views.sheet import as_data

    scenario = load(args.rig, args)
    cannot, sheet = refusals(scenario), design(scenario)
    if args.json:
        screen.json(as_data(sheet, scenario) | {"cannot_run": list(cannot), "caution": CAUTION})
    else:
        _tell(scenario, sheet, cannot, screen)
    return 1 if cannot or sheet.verdict() == "does not fit" else 0


def _tell(scenario: "Scenario", sheet: "Sheet", cannot: tuple[str, ...], screen: Screen) -> None:
    from sim.views.page import CAUTION
    from sim.views.sheet import JUDGED, findings, tables

    for table in tables(sheet, scenario):
        screen.table(table)
    for line in cannot:
        screen.say(f"cannot run: {line}", "bold red")
    for line in findings(sheet):
        screen.say(f"- {line}")
    screen.say()
    screen.say(JUDGED)
    screen.say(f"{len(scenario.assumed)} values were assumed; all of them: pegloop check {scenario.name}")
    screen.say(f"Caution: {CAUTION}")
