"""``pegloop new``: a commented rig file to start from; what exists is never overwritten."""

import argparse
import os
from pathlib import Path

from sim.cli.refused import Refused, unknown
from sim.cli.screen import Screen


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Write the file and say what to do next."""
    from scenarios.library import ready_rigs
    from scenarios.template import new_text

    if args.rig not in ready_rigs():
        raise unknown("ready rig", args.rig, ready_rigs())
    path = Path(args.file)
    if not path.name:
        raise Refused(f"FILE: '{args.file}' is no name of a file")
    write_new(path, new_text(args.rig, args.draw))
    screen.say(f"wrote {path}")
    screen.talk(f"Edit it, then: pegloop check {path}")
    return 0


def write_new(path: Path, text: str) -> None:
    """Write a file that does not exist yet: aside first, then given its name in one step.

    Raises ``Refused`` when it exists or its folder cannot be written to.
    """
    aside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        aside.write_text(text, encoding="utf-8", newline="\n")
        try:
            os.link(aside, path)
        finally:
            aside.unlink()
    except FileExistsError:
        raise Refused(f"{path}: exists already and is left as it is; choose another name") from None
    except OSError as error:
        raise Refused(f"{path}: {error.strerror or error}") from None
