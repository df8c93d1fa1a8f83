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
UNITS = 2  # by which the turns of another program, in floating point, may differ from the vectors
MACHINES, TUNINGS = 20, 2  # of the prediction


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Print the constants, or write all that is handed over with ``--out``."""
    scenario = load(args.rig, args)
    names = [strategy.name for strategy in scenario.strategies]
    (name,) = chosen((args.strategy,) if args.strategy else None, names, "strategy")[:1]
    strategy = scenario.strategies[names.index(name)]
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
    files["acceptance.md"] = _acceptance(scenario, strategy, args)
    _write(files, folder)
    screen.talk(f"wrote {folder}: {', '.join(files)}")
    if args.format == "c" and "reference.c" not in files:
        screen.talk(
            f"no reference in C: {strings[0].layers[0]} or a rule around it is not among those it computes; a "
            f"program of your own should agree with the vectors within {UNITS} millidegrees"
        )
    return 0


def _constants(scenario: "Scenario", strategy: "Strategy") -> "list[Constants]":
    from sim.export.constants import constants_of

    try:
        return [constants_of(scenario, strategy, string) for string in scenario.strings]
    except ValueError as error:
        raise Refused(f"{strategy.name}: {error}") from None


def _text(scenario: "Scenario", strategy: "Strategy", strings: "list[Constants]", form: str) -> str:
    import json

    from sim.export.header import header, plain
    from sim.series.grid import RigFacts
    from sim.views.page import CAUTION

    sha256 = RigFacts.of(scenario).data_sha256
    if form == "c":
        return header(scenario.name, sha256, strategy.name, strings, CAUTION)
    return json.dumps(plain(scenario.name, sha256, strategy.name, strings), indent=2) + "\n"


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


def _acceptance(scenario: "Scenario", strategy: "Strategy", args: argparse.Namespace) -> str:
    from sim.export.acceptance import USUAL_SHARE, plan_of_acceptance
    from sim.series.compare import compare
    from sim.views.page import CAUTION

    summary = compare(
        [scenario], strategies=[strategy.name], specimens=MACHINES, tunings=TUNINGS, seed=args.seed
    ).summary
    share = USUAL_SHARE if scenario.require is None else scenario.require.tuned_share
    return plan_of_acceptance(scenario.name, strategy.name, share, summary, CAUTION)


def _write(files: dict[str, str], folder: Path) -> None:
    from sim.series.files import write_aside

    for name, text in files.items():
        write_aside(folder / name, text)
