"""Every public thing is described; every component says its law, when it fails, and where it comes from."""

import ast
from collections.abc import Iterator
from dataclasses import fields

import pytest
from source import definitions, modules

from controllers import CONTROLLERS
from models.component import resolve
from models.faults import FAULTS
from models.hearing import EARS
from models.motors import MOTORS

REGISTRIES = {"motors": MOTORS, "controllers": CONTROLLERS, "ears": EARS, "faults": FAULTS}


def public(name: str) -> bool:
    return not any(part.startswith("_") for part in name.split("."))


def components() -> Iterator[tuple[str, ast.ClassDef]]:
    for module, tree in modules().items():
        for name, node in definitions(tree):
            if isinstance(node, ast.ClassDef) and "component" in [ast.unparse(mark) for mark in node.decorator_list]:
                yield f"{module}.{name}", node


COMPONENTS = dict(components())


def test_there_are_components() -> None:
    assert {"models.strings.tension.String", "models.head.gear.Head"} <= COMPONENTS.keys()


@pytest.mark.parametrize("name", modules())
def test_public_things_have_docstrings(name: str) -> None:
    assert ast.get_docstring(modules()[name]), "the module has no docstring"
    silent = [
        place
        for place, node in definitions(modules()[name])
        if public(place) and not _nested(name, place) and ast.get_docstring(node) is None
    ]
    assert silent == []


def _nested(module: str, place: str) -> bool:
    """Return whether a definition lies inside a function."""
    owners = dict(definitions(modules()[module]))
    parts = place.split(".")
    above = (".".join(parts[:count]) for count in range(1, len(parts)))
    return any(not isinstance(owners[name], ast.ClassDef) for name in above)


@pytest.mark.parametrize("name", COMPONENTS)
def test_components_state_law_failure_and_source(name: str) -> None:
    text = ast.get_docstring(COMPONENTS[name]) or ""
    assert [word for word in ("Law:", "Fails when:", "Source:") if word not in text] == []


@pytest.mark.parametrize("name", COMPONENTS)
def test_every_parameter_is_described(name: str) -> None:
    body = COMPONENTS[name].body
    for place, node in enumerate(body):
        if isinstance(node, ast.AnnAssign) and "ClassVar" not in ast.unparse(node.annotation):
            after = body[place + 1] if place + 1 < len(body) else None
            described = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
            assert described, f"{name}.{ast.unparse(node.target)} has no docstring"


@pytest.mark.parametrize(("kind", "name"), [(kind, name) for kind, known in REGISTRIES.items() for name in known])
def test_registered_kinds_resolve_to_components(kind: str, name: str) -> None:
    found = resolve(REGISTRIES[kind], name)
    assert f"{found.__module__}.{found.__name__}" in COMPONENTS
    assert fields(found)
