"""``pegloop sheet``: can the machine work at all, before any run."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.loading import empty_folder, load, repeating
from sim.cli.progress import Progress
from sim.cli.refused import Refused
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.design.whole import Whole
    from sim.views.theory import Section

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
    theory = _theory(scenario, cannot, args, screen)
    if args.json:
        screen.json(as_data(found, scenario, cannot, theory))
    else:
        _tell(scenario, found, cannot, theory, screen)
    if folder:
        _write(scenario, found, cannot, theory, repeating(args.words), folder)
        screen.talk(f"wrote {folder}: sheet.md, sheet.json, three plots as SVG and PNG")
    elif not args.json:
        screen.talk("As a page with pictures: add --out DIR")
    return 1 if cannot or not found.fits() else 0


def _theory(scenario: "Scenario", cannot: Reasons, args: argparse.Namespace, screen: Screen) -> "Section | None":
    """Return what theory says of the rig if that was asked for, with the simulation beside it if that was too."""
    if args.verify and not args.theory:
        raise Refused("--verify: sets the simulation beside theory; add --theory")
    if args.verify and cannot:
        raise Refused(f"--verify: {scenario.name} cannot be run: {cannot[0]}")
    if not args.theory:
        return None
    from sim.design.theory import theory
    from sim.views.theory import section

    found = theory(scenario)
    told = section(found, scenario)
    if not args.verify:
        return told
    from sim.design.theory_verify import verify
    from sim.views.theory_checks import checked

    with Progress(screen) as progress:
        return checked(told, verify(scenario, found, progress=progress))


def _tell(scenario: "Scenario", found: "Whole", cannot: Reasons, theory: "Section | None", screen: Screen) -> None:
    from sim.views.budget import COMBINED
    from sim.views.page import CAUTION
    from sim.views.sheet import JUDGED
    from sim.views.sheet_page import findings, tables

    for table in (*tables(found, scenario), *(theory.tables if theory else ())):
        screen.table(table)
    for line in cannot:
        screen.say(f"cannot run: {line}", "bold red")
    for line in (*findings(found), *(theory.findings if theory else ())):
        screen.say(f"- {line}")
    screen.say()
    for note in (JUDGED, COMBINED, *(theory.notes if theory else ())):
        screen.say(note)
    screen.say(f"{len(scenario.assumed)} values were assumed; all of them: pegloop check {scenario.name}")
    screen.say(f"Caution: {CAUTION}")


def _write(
    scenario: "Scenario", found: "Whole", cannot: Reasons, theory: "Section | None", command: str, folder: Path
) -> None:
    from sim.series.files import to_json, write_aside
    from sim.views.plots.design import draw
    from sim.views.sheet_page import as_data, sheet_page

    write_aside(folder / "sheet.md", sheet_page(found, scenario, cannot, command, theory))
    write_aside(folder / "sheet.json", to_json(as_data(found, scenario, cannot, theory)))
    draw(found.sheet.facts, found.budgets, scenario.task.tolerance_cents, folder)
