"""``pegloop export``: a strategy's constants for firmware, vectors to replay, and a plan of acceptance."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.loading import chosen, empty_folder, load
from sim.cli.refused import Refused
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from scenarios.schema import Scenario, Strategy
    from sim.export.constants import Constants

VECTORS = 10_000
MACHINES, TUNINGS = 60, 1  # of the prediction: 59 see the far side of a 95th percentile


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Print the constants, or write all that is handed over with ``--out``."""
    scenario = load(args.rig, args)
    strategy = _strategy(scenario, args)
    strings = _constants(scenario, strategy)
    constants = _text(scenario, strategy, strings, args.format)
    if not args.out:
        screen.print(constants)
        screen.talk("With vectors to replay and a plan of acceptance: add --out DIR")
        return 0
    folder = empty_folder(args.out)
    files = {f"constants.{'h' if args.format == 'c' else 'json'}": constants}
    files |= _vectors(scenario, strings, args.seed)
    files |= _reference(strings) if args.format == "c" else {}
    files |= _acceptance(scenario, strategy, args)
    _write(files, folder)
    screen.talk(f"wrote {folder}: {', '.join(files)}")
    _remark(strings, args.format == "c" and "reference.c" not in files, screen)
    return 0


def _strategy(scenario: "Scenario", args: argparse.Namespace) -> "Strategy":
    """Return the strategy asked for, or the first. Raises ``Refused`` for one that the rig cannot follow."""
    from sim.design.refusals import refusals

    names = [strategy.name for strategy in scenario.strategies]
    name = chosen((args.strategy,) if args.strategy else None, names, "strategy")[0]
    if cannot := refusals(scenario, (name,)):
        raise Refused(*(f"{scenario.name}: {line}" for line in cannot))
    return scenario.strategies[names.index(name)]


def _constants(scenario: "Scenario", strategy: "Strategy") -> "list[Constants]":
    from sim.export.constants import constants

    try:
        return constants(scenario, strategy)
    except ValueError as error:
        raise Refused(f"{strategy.name}: {error}") from None


def _text(scenario: "Scenario", strategy: "Strategy", strings: "list[Constants]", form: str) -> str:
    from sim.export.header import header, plain
    from sim.series.files import to_json
    from sim.series.fingerprint import fingerprint
    from sim.views.page import CAUTION

    sha256 = fingerprint(scenario)
    if form == "c":
        return header(scenario.name, sha256, strategy.name, strings, CAUTION)
    return to_json(plain(scenario.name, sha256, strategy.name, strings))


def _vectors(scenario: "Scenario", strings: "list[Constants]", seed: int) -> dict[str, str]:
    from sim.export.header import to_csv
    from sim.export.vectors import vectors

    each = -(-VECTORS // len(strings))
    found = [(place, vector) for place, one in enumerate(strings) for vector in vectors(one, scenario.task, each, seed)]
    return {"vectors.csv": to_csv(found[:VECTORS])}


def _reference(strings: "list[Constants]") -> dict[str, str]:
    from sim.export.reference import declared, has_reference, reference, replay

    if not has_reference(strings):
        return {}
    return {"reference.h": declared(), "reference.c": reference(strings), "replay.c": replay()}


def _acceptance(scenario: "Scenario", strategy: "Strategy", args: argparse.Namespace) -> dict[str, str]:
    from sim.export.acceptance import USUAL_SHARE, page, plan_of_acceptance
    from sim.series.compare import compare
    from sim.series.files import to_json
    from sim.views.page import CAUTION

    series = compare([scenario], strategies=[strategy.name], specimens=MACHINES, tunings=TUNINGS, seed=args.seed)
    share = USUAL_SHARE if scenario.require is None else scenario.require.tuned_share
    try:
        plan = plan_of_acceptance(share, series.summary)
    except ValueError as error:
        raise Refused(f"{args.rig}: require.tuned_share: {error}") from None
    return {"acceptance.md": page(plan, CAUTION), "acceptance.json": to_json(plan)}


def _write(files: dict[str, str], folder: Path) -> None:
    from sim.series.files import write_aside

    for name, text in files.items():
        write_aside(folder / name, text)


def _remark(strings: "list[Constants]", alone: bool, screen: Screen) -> None:
    """Say what is left to be careful about: a move beyond the reserve, and answers without a reference."""
    from sim.export.vectors import UNITS

    for each in strings:
        values = {number.name: number.value for number in each.numbers}
        move, reserve = values["largest_move_angle_millideg"] / 1e3, values["reserve_millideg"] / 1e3
        if move > reserve:
            screen.talk(
                f"{each.string}: one wrong reading may break it, for the largest move is {move:g} deg and the worst "
                f"string breaks {reserve:.0f} deg above the target (largest_move_deg)"
            )
    if alone:
        screen.talk(
            f"no reference in C: {strings[0].layers[0]} or a rule around it is not among those it computes; a "
            f"program of your own should agree with the vectors within {UNITS} millidegrees"
        )
