"""``pegloop faults --rare``: how often a sound but noisy machine breaks a string."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sim.cli.loading import chosen, plugins
from sim.cli.refused import Refused
from sim.cli.screen import Screen
from sim.cli.series import refusing, workers

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.series.rare import Rare

WITHOUT: Final = ("faults", "guards", "show", "resume")
BREAKING: Final = 40  # times the machines asked for, at most, while strings break
UNBROKEN: Final = 10  # the same while none does: default rig within two minutes on two processors


def answer(scenario: "Scenario", strategies: tuple[str, ...], args: argparse.Namespace, screen: Screen) -> int:
    """Tell of each strategy and string how often a machine without faults breaks it, conditional on its noise."""
    if senseless := [name for name in WITHOUT if getattr(args, name)]:
        raise Refused(f"--{senseless[0]}: found beside --rare, whose machines are sound and unguarded; leave it out")
    strings = chosen(args.strings, scenario.strings, "string")
    with refusing(args):
        if args.out:
            _room(Path(args.out))
        found = _found(scenario, strategies, strings, args)
        if args.out:
            _hand_over(found, scenario, args)
    _show(found, scenario, args, screen)
    return 0


def _room(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise Refused(f"--out {folder}: is not empty; give a new folder")


def _found(
    scenario: "Scenario", strategies: tuple[str, ...], strings: tuple[str, ...], args: argparse.Namespace
) -> list["Rare"]:
    from sim.series.rare import Effort, rares

    asked = [(strategy, string) for strategy in strategies for string in strings]
    first = args.specimens
    with workers(args) as place:
        effort = Effort(
            runs=first, most=BREAKING * first, most_unbroken=UNBROKEN * first, plugins=plugins(args), **place
        )
        return rares(scenario, asked, args.seed, effort)


def _plain(found: list["Rare"], scenario: "Scenario", args: argparse.Namespace) -> dict[str, Any]:
    return {"rig": scenario.name, "seed": args.seed, "found": [one.plain() for one in found]}


def _hand_over(found: list["Rare"], scenario: "Scenario", args: argparse.Namespace) -> None:
    from sim.series.files import to_json, write_lines

    write_lines(Path(args.out) / "rare.json", (to_json(_plain(found, scenario, args)),))


def _show(found: list["Rare"], scenario: "Scenario", args: argparse.Namespace, screen: Screen) -> None:
    from sim.views.rare import sentences, table

    if args.json:
        screen.json(_plain(found, scenario, args))
        return
    for one in found:
        screen.table(table(one))
        for sentence in sentences(one)[:-1]:
            screen.say(f"- {sentence}")
    screen.say(sentences(found[-1])[-1])
