"""``pegloop hear --fit FILE``: a statistical ear that errs as the rig's signal ear does, and whether to trust it."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.loading import chosen, load
from sim.cli.new import write_new
from sim.cli.refused import Refused
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from scenarios.schema import Part
    from sim.hearing.sameness import Cell

SPECIMENS, PLUCKS, WINDOWS, LEVELS = 200, 2, 3, 3  # of the fit
FRESH_SPECIMENS, FRESH_LEVELS = 200, 2  # of the check: fewer could not bound failures that none of them shows


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Measure, write the file, then hold the new ear against fresh readings of the old one."""
    from sim.hearing.fit import fitted, to_toml
    from sim.hearing.listened import Sizes
    from sim.hearing.sameness import cells
    from sim.seeds import Streams

    path = _free(args.fit)
    scenario = load(args.rig, args)
    strings = chosen(args.strings, scenario.strings, "string")
    sizes, fresh = Sizes(SPECIMENS, PLUCKS, WINDOWS), Sizes(FRESH_SPECIMENS, PLUCKS, WINDOWS)
    ears = {}
    for string in strings:
        screen.talk(f"{string}: listening to {sizes.specimens} specimens")
        ears[string] = fitted(scenario, string, Streams(args.seed), sizes, LEVELS)
    write_new(path, to_toml(scenario, ears, args.seed, sizes, LEVELS))
    found = []
    for string in strings:
        screen.talk(f"{string}: listening to {fresh.specimens} fresh specimens with both ears")
        found += cells(scenario, ears, string, Streams(args.seed + 1), fresh, FRESH_LEVELS)
    if args.json:
        screen.json({"rig": scenario.name, "file": str(path), "seed": args.seed, **_plain(ears, found)})
    else:
        _tell(screen, path, ears, found)
    return 0


def _free(name: str) -> Path:
    """Return a path that nothing stands at yet, in a folder that exists. Raises ``Refused`` otherwise."""
    path = Path(name)
    if not path.name or path.exists():
        raise Refused(f"{name}: exists already and is left as it is; choose another name")
    if not path.parent.is_dir():
        raise Refused(f"{name}: there is no folder {path.parent}")
    return path


def _tell(screen: Screen, path: Path, ears: "dict[str, Part]", found: "Sequence[Cell]") -> None:
    from sim.views.fitted import fitted, sameness, trust

    screen.table(fitted(ears, LEVELS * PLUCKS * WINDOWS * SPECIMENS))
    screen.table(sameness(found))
    screen.say(trust(found))
    screen.say(f"wrote {path}. To hear with it, put this into a rig file beside it:")
    screen.say(f'[ear]\nfile = "{path.name}"', indent=2)
    screen.talk("Intervals cover chance in this simulation, not errors of the model.")


def _plain(ears: "dict[str, Part]", found: "Sequence[Cell]") -> dict[str, Any]:
    from dataclasses import asdict, is_dataclass

    values = {
        string: {key: asdict(value) if is_dataclass(value) else value for key, value in ear.values.items()}
        for string, ear in ears.items()
    }
    return {"ears": values, "sameness": [_cell(cell) for cell in found]}


def _cell(cell: "Cell") -> dict[str, Any]:
    differences = [{**each._asdict(), "verdict": each.verdict()} for each in cell.differences]
    return {**cell._asdict(), "differences": differences, "verdict": cell.verdict()}
