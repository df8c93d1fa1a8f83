"""What a sweep, a search and the study of unknowns have in common: one rig under many settings."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.loading import load, plugins
from sim.cli.refused import Refused

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.series.sweep import Load, Size


def loader(args: argparse.Namespace) -> "Load":
    """Return what loads the rig with the changes of ``--set`` and more."""
    given = tuple(args.changes)

    def loaded(changes: tuple[str, ...]) -> "Scenario":
        args.changes = [*given, *changes]
        try:
            return load(args.rig, args)
        except Refused as refusal:
            raise Refused(*(_of_vary(line, changes) for line in refusal.lines), placed=True) from None

    return loaded


def _of_vary(line: str, changes: tuple[str, ...]) -> str:
    """Return a line with the name of the option that brought the change."""
    mine = any(line.startswith(f"--set {change} ") for change in changes)
    return line.replace("--set", "--vary", 1) if mine else line


def size_of(args: argparse.Namespace) -> "Size":
    """Return how much is to be run."""
    from sim.series.sweep import Size

    return Size(
        specimens=args.specimens, tunings=args.tunings, seed=args.seed, strategies=args.strategies, jobs=args.jobs,
        out=Path(args.out) if args.out else None, resume=args.resume, plugins=plugins(args), width=args.until,
    )  # fmt: skip
