"""The budget of size: short functions, short files, nothing printed but by the command line."""

import ast
from statistics import median

import pytest
from source import ROOT, code_lines, definitions, dotted, files, modules

LONGEST_FUNCTION, LONGEST_FILE, MEDIAN_FUNCTION = 50, 350, 6


def functions() -> dict[str, int]:
    """Return the lines of code of every function."""
    sizes = {}
    for path in files():
        text = path.read_text("utf-8").splitlines()
        for name, node in definitions(modules()[dotted(path)]):
            if not isinstance(node, ast.ClassDef):
                sizes[f"{dotted(path)}.{name}"] = code_lines(node, text)
    return sizes


def test_no_function_is_long() -> None:
    assert {name: lines for name, lines in functions().items() if lines > LONGEST_FUNCTION} == {}


def test_the_median_function_is_short() -> None:
    assert median(functions().values()) <= MEDIAN_FUNCTION


def test_no_file_is_long() -> None:
    lengths = {str(path.relative_to(ROOT)): len(path.read_text("utf-8").splitlines()) for path in files()}
    assert {path: lines for path, lines in lengths.items() if lines > LONGEST_FILE} == {}


@pytest.mark.parametrize("name", [name for name in modules() if not name.startswith("sim.cli")])
def test_nothing_prints_outside_the_command_line(name: str) -> None:
    calls = [node.func for node in ast.walk(modules()[name]) if isinstance(node, ast.Call)]
    assert [call.lineno for call in calls if isinstance(call, ast.Name) and call.id == "print"] == []


@pytest.mark.parametrize("name", modules())
def test_nothing_is_left_for_later(name: str) -> None:
    """No stub: a function does something; protocols and overloads are the exception."""
    for place, node in definitions(modules()[name]):
        if isinstance(node, ast.FunctionDef) and not _only_typed(name, place, node):
            last = node.body[-1]
            bare = isinstance(last, ast.Pass) or ast.unparse(last) in ("...", "raise NotImplementedError")
            assert not bare, f"{name}.{place} is a stub"


def _only_typed(name: str, place: str, node: ast.FunctionDef) -> bool:
    """Return whether a function is there for the type checker alone."""
    if "overload" in [ast.unparse(mark) for mark in node.decorator_list]:
        return True
    owners = dict(definitions(modules()[name]))
    owner = owners.get(place.rpartition(".")[0])
    return isinstance(owner, ast.ClassDef) and any("Protocol" in ast.unparse(base) for base in owner.bases)
