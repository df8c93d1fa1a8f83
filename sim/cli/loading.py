"""Rigs, names and a user's own controllers, as the options give them; refused in one line each."""

import argparse
import json
import re
import shlex
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.refused import Refused, unknown

if TYPE_CHECKING:
    from scenarios.schema import Hearing, Scenario

Plugin = tuple[str, str, str]  # name, path, class
PLACES = ("--out", "--jobs", "--cluster")  # options that change no result
PLUGIN = re.compile(r"([A-Za-z0-9][A-Za-z0-9_-]{0,31})=(.+):([A-Za-z_]\w*)")


def load(source: str, args: argparse.Namespace) -> "Scenario":
    """Return a rig file or ready rig with the changes of ``--set``, heard by the ear that the options ask for.

    Raises ``Refused`` with all errors of the rig.
    """
    from scenarios.errors import RigError
    from scenarios.load import load_rig

    ear: Hearing = getattr(args, "ear", "statistical")
    order = getattr(args, "order", None)
    changes = (*args.changes, *([f"session.order={json.dumps(order)}"] if order else []))
    own = {"plugins": kinds(args), "detectors": own_detectors(args)}
    try:
        return load_rig(source, changes=changes, **own, ear=ear, session=getattr(args, "session", False))
    except RigError as error:
        raise Refused(*error.lines, placed=True) from None


def plugins(args: argparse.Namespace) -> tuple[Plugin, ...]:
    """Return name, path and class of each ``--controller`` and ``--detector``. Raises ``Refused`` for another form."""
    return (*_controllers(args), *_detectors(args))


def _controllers(args: argparse.Namespace) -> tuple[Plugin, ...]:
    return tuple(_plugin("--controller", text) for text in args.controllers)


def _detectors(args: argparse.Namespace) -> tuple[Plugin, ...]:
    return tuple(_plugin("--detector", text) for text in getattr(args, "detector", []))


def kinds(args: argparse.Namespace) -> Mapping[str, type]:
    """Return the class of each ``--controller`` by name.

    Raises ``Refused`` when one cannot be loaded, takes the name of a shipped one, or takes that of another.
    """
    from controllers import CONTROLLERS

    found: dict[str, type] = {}
    for name, path, class_name in _controllers(args):
        if name in CONTROLLERS or name in found:
            whose = "a shipped controller" if name in CONTROLLERS else "another --controller"
            raise Refused(f"--controller {name}: is the name of {whose}; take another one")
        found[name] = _kind("--controller", path, class_name)
    return found


def own_detectors(args: argparse.Namespace) -> Mapping[str, type]:
    """Return the class of each ``--detector`` by name; none where a command has no such option.

    Raises ``Refused`` when one cannot be loaded, or takes the name of a part of the library.
    """
    given = _detectors(args)
    for name, _, _ in given:
        _refuse_library_name(name)
    return {name: _kind("--detector", path, class_name) for name, path, class_name in given}


def _refuse_library_name(name: str) -> None:
    from scenarios.library import part_names

    if name in part_names()["detector"] or name == "all":
        raise Refused(f"--detector {name}: is a name of the library; take another one")


def _plugin(option: str, text: str) -> Plugin:
    found = PLUGIN.fullmatch(text)
    if not found:
        raise Refused(f"{option} {text}: expected NAME=path/to/file.py:Class")
    return found[1], found[2], found[3]


def _kind(option: str, path: str, class_name: str) -> type:
    from sim.series.plugins import load_plugin

    try:
        return load_plugin(path, class_name)
    except ValueError as error:
        raise Refused(f"{option} {error}") from error


def chosen(asked: Sequence[str] | None, known: Iterable[str], what: str) -> tuple[str, ...]:
    """Return the names that were asked for. Raises ``Refused`` for a name that is not known."""
    names = tuple(known)
    for name in asked or ():
        if name not in names:
            raise unknown(what, name, names)
    return tuple(asked or names)


def repeating(words: Sequence[str]) -> str:
    """Return the command that gives the same result elsewhere: what was asked, without where it ran and was put."""
    left = iter(words)
    kept = []
    for word in left:
        option, _, value = word.partition("=")
        if option in PLACES:
            _ = value or next(left, None)
        elif word not in ("--resume", "--quiet"):
            kept.append(word)
    return shlex.join(["pegloop", *kept])


def empty_folder(path: str) -> Path:
    """Return a folder to write results to, made if need be. Raises ``Refused`` when something is in it."""
    folder = Path(path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise Refused(f"--out {path}: the folder is not empty; name another one")
    except OSError as error:
        raise Refused(f"--out {path}: {error.strerror}") from None
    return folder
