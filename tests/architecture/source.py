"""The four packages as syntax trees, and how many lines of code a definition has."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "scenarios" / "examples"
PACKAGES = ("models", "controllers", "scenarios", "sim")
Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


@cache
def modules() -> dict[str, ast.Module]:
    """Return every module of the packages by dotted name."""
    return {dotted(path): ast.parse(path.read_text("utf-8")) for path in files()}


def files() -> list[Path]:
    """Return the source files of the packages; examples are scripts for users, not rooms of the house."""
    found = (path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))
    return sorted(path for path in found if EXAMPLES not in path.parents)


def dotted(path: Path) -> str:
    """Return the module name of a source file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(tree: ast.Module, everywhere: bool = True) -> set[str]:
    """Return what a module imports, by full name; with ``everywhere`` also inside functions."""
    nodes = ast.walk(tree) if everywhere else _at_import(tree)
    found: set[str] = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def _at_import(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the nodes that run when a module is imported: not functions, not ``if TYPE_CHECKING``."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            continue
        yield child
        yield from _at_import(child)


def definitions(tree: ast.Module) -> Iterator[tuple[str, Definition]]:
    """Yield every class and function with its name inside the module, nested ones too."""
    yield from _definitions(tree, "")


def _definitions(node: ast.AST, prefix: str) -> Iterator[tuple[str, Definition]]:
    for child in ast.iter_child_nodes(node):
        inner = prefix
        if isinstance(child, Definition):
            yield prefix + child.name, child
            inner = f"{prefix}{child.name}."
        yield from _definitions(child, inner)


def code_lines(function: ast.FunctionDef | ast.AsyncFunctionDef, text: list[str]) -> int:
    """Return the lines of a function without its docstring, comments and blank lines; its head counts."""
    skipped: set[int] = set()
    first = function.body[0]
    if ast.get_docstring(function) is not None:
        skipped = set(range(first.lineno, (first.end_lineno or first.lineno) + 1))
    numbers = range(function.lineno, (function.end_lineno or function.lineno) + 1)
    lines = [text[number - 1].strip() for number in numbers if number not in skipped]
    return sum(1 for line in lines if line and not line.startswith("#"))
