"""Kinds of guards and faults, of which a rig file makes named ones: what each is, and its keys."""

import inspect
from collections.abc import Iterator
from dataclasses import is_dataclass


def named_kinds() -> Iterator[tuple[str, str, type]]:
    """Give every kind of guard and of fault: section of the rig file, name, class."""
    from controllers.guards import GUARDS
    from models.component import resolve
    from models.faults import FAULTS

    for section, kinds in (("guards", GUARDS), ("faults", FAULTS)):
        for name in kinds:
            yield section, name, resolve(kinds, name)


def kind_names() -> list[str]:
    """Return the names of every kind of guard and of fault."""
    return [name for _, name, _ in named_kinds()]


def component_bases(kind: type) -> list[type]:
    """Return a component's class and those from which it has its other parameters."""
    return [each for each in kind.__mro__ if is_dataclass(each)]


def about(kind: type) -> str:
    """Return what a kind is, in one sentence."""
    return (inspect.getdoc(kind) or "").partition("\n")[0]


def described(section: str, name: str, kind: type) -> Iterator[tuple[str, int]]:
    """Give what is to be known of a kind, line by line with its indent: law, limits of it, and each key."""
    from scenarios.library import parameters

    yield f"{name}, a kind for [{section}.NAME]", 0
    for paragraph in (inspect.getdoc(kind) or "").split("\n\n"):
        yield " ".join(paragraph.split()), 0
    docs = {key.name: key.doc for base in component_bases(kind) for key in parameters(base) if key.doc}
    for key in parameters(kind):
        yield f"{key.name}" + (f" in {key.unit}" if key.unit else "") + f"   ({key.allowed})", 0
        yield docs[key.name], 4
    if section == "guards":
        yield "A key that the rig file leaves out is derived from the rig, string by string.", 0
