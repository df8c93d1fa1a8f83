"""A result folder: journal while it runs; table, summary and manifest when it is complete."""

import json
import platform
import shlex
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

from sim.seeds import Seed, number_of
from sim.series.files import aside, to_csv, to_json, write_aside, write_lines
from sim.series.grid import Grid, RigFacts, Rows, Sheet
from sim.series.journal import Journal, read_journal
from sim.series.plugins import Plugin
from sim.series.row import ROW

FORMAT = 1  # of result folders
RUNS = "runs"  # what most of them hold
MOST_NAMED = 3  # rigs or keys in a refusal
JOURNAL, MANIFEST, TABLE, SUMMARY = "journal.jsonl", "manifest.json", "runs.csv", "summary.json"

SAME = {
    "holds": "kind of series",
    "rigs": "rig",
    "seed": "seed",
    "crossed": "choice of keys",
    "versions": "version",
    "plugins": "controller",
}
"""What two series of one folder have in common, and what it is called."""


class StoreError(ValueError):
    """A result folder that cannot serve: one line that says why and what helps."""


def versions() -> dict[str, str]:
    """Return the versions that a result depends on."""
    found = {"python": platform.python_version()}
    for name in ("pegloop", "numpy", "scipy"):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def manifest(grid: Grid, seed: Seed, plugins: tuple[Plugin, ...], holds: str) -> dict[str, Any]:
    """Return what a result folder says of itself, not complete yet."""
    return {
        "format": FORMAT,
        "complete": False,
        "holds": holds,
        "seed": number_of(seed),
        "crossed": [] if isinstance(seed, int) else list(seed.factors),
        "specimens": grid.specimens,
        "tunings": grid.tunings,
        "rigs": [asdict(rig) for rig in grid.rigs],
        "plugins": [
            {"name": name, "class": class_name, "sha256": sha256(Path(path).read_bytes()).hexdigest()}
            for name, path, class_name in plugins
        ],
        "versions": versions(),
        "command": shlex.join(["pegloop", *sys.argv[1:]]),
    }


class Store:
    """A result folder that is being filled. Use as a context manager."""

    def __init__(
        self, out: Path, grid: Grid, seed: Seed, plugins: tuple[Plugin, ...], resume: bool, holds: str = RUNS
    ) -> None:
        """Open or make the folder ``out``.

        Raises ``StoreError`` for a folder with something in it unless ``resume``, and for one that holds another rig,
        seed, version or choice, or more specimens or tunings.
        """
        self._out, self._grid = out, grid
        self._manifest: dict[str, Any] = json.loads(to_json(manifest(grid, seed, plugins, holds)))
        if out.exists() and (not out.is_dir() or not _untouched(out)):
            _refuse_unless_same(out, self._manifest, resume)
        out.mkdir(parents=True, exist_ok=True)
        write_aside(out / MANIFEST, to_json(self._manifest))
        self._journal = Journal(out / JOURNAL)

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, *error: object) -> None:
        self._journal.close()

    def finished(self, dtype: "np.dtype[Any]") -> Iterator[Rows]:
        """Give the rows of earlier sessions. Raises ``StoreError`` for a journal that was edited."""
        return _rows(self._out, dtype)

    def append(self, rows: Rows) -> None:
        """Write rows to the journal."""
        self._journal.append(rows)

    def complete(self, rows: Rows, summary: dict[str, Any]) -> None:
        """Write the table and the summary, then mark the folder as complete."""
        write_lines(self._out / TABLE, to_csv(self._grid.rigs, rows))
        write_aside(self._out / SUMMARY, to_json(summary))
        write_aside(self._out / MANIFEST, to_json(self._manifest | {"complete": True}))


def _rows(folder: Path, dtype: "np.dtype[Any]" = ROW) -> Iterator[Rows]:
    try:
        yield from read_journal(folder / JOURNAL, dtype)
    except ValueError as error:
        raise StoreError(str(error)) from None


def _untouched(folder: Path) -> bool:
    """Tell whether nothing is in a folder, but a manifest that a killed process did not finish."""
    return all(file.name == aside(folder / MANIFEST).name for file in folder.iterdir())


def _refuse_unless_same(out: Path, wanted: dict[str, Any], resume: bool) -> None:
    if not out.is_dir():
        raise StoreError(f"{out}: is a file; give the name of a folder")
    if not resume:
        raise StoreError(f"{out}: is not empty; resume it (--resume) or give a new folder")
    held = _read_manifest(out)
    for key, words in SAME.items():
        if held[key] != wanted[key]:
            raise StoreError(f"{out}: holds another {words} ({_difference(held, wanted, key)}); give a new folder")
    for key in ("specimens", "tunings"):
        if held[key] > wanted[key]:
            raise StoreError(f"{out}: holds {held[key]} {key}, more than the {wanted[key]} asked for; ask for as many")


def _difference(held: dict[str, Any], wanted: dict[str, Any], key: str) -> str:
    """Say in a few words what differs."""
    if key == "versions":
        other = [name for name in wanted[key] if held[key].get(name) != wanted[key][name]]
        return ", ".join(f"{name} {held[key].get(name)} there, {wanted[key][name]} here" for name in other)
    if key != "rigs" or len(held[key]) != len(wanted[key]):
        return f"{_names(held[key])} there, {_names(wanted[key])} here"
    pairs = zip(held[key], wanted[key], strict=True)
    return ", ".join(
        f"{there['name']}: other {' and '.join(name for name in here if here[name] != there.get(name))}"
        for there, here in pairs
        if there != here
    )


def _names(value: Any) -> str:
    if not isinstance(value, list):
        return str(value)
    names = [inner if isinstance(inner, str) else inner["name"] for inner in value]
    more = [f"{len(names) - MOST_NAMED} more"] if len(names) > MOST_NAMED else []
    return " and ".join(names[:MOST_NAMED] + more) or "none"


def _read_manifest(folder: Path) -> dict[str, Any]:
    try:
        found: dict[str, Any] = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        raise StoreError(f"{folder}: is no result folder (no {MANIFEST} that can be read)") from None
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise StoreError(f"{folder}: was written in another format of result folders")
    return {"crossed": [], "holds": RUNS} | found  # folders of before do not say


@dataclass(frozen=True, slots=True)
class Results:
    """An earlier comparison as read back from its folder."""

    manifest: dict[str, Any]
    grid: Grid
    rows: Rows
    """All rows in run order."""

    @property
    def seed(self) -> int:
        """Seed of the comparison."""
        return int(self.manifest["seed"])


def read_results(folder: Path) -> Results:
    """Read a complete result folder. Raises ``StoreError`` for anything else."""
    held = _read_manifest(folder)
    if held["holds"] != RUNS:
        raise StoreError(f"{folder}: holds {held['holds']}; allowed: a folder of compare")
    if held["crossed"]:
        raise StoreError(f"{folder}: holds a study of unknowns, whose machines are crossed; give a folder of compare")
    grid = Grid(tuple(map(RigFacts.from_plain, held["rigs"])), held["specimens"], held["tunings"])
    sheet = Sheet(grid)
    for rows in _rows(folder):
        sheet.put(rows)
    if sheet.done() < len(grid):
        raise StoreError(f"{folder}: {len(grid) - sheet.done()} of {len(grid)} runs are missing; resume it first")
    return Results(held, grid, sheet.rows)


def held_specimens(folder: Path) -> int:
    """Return for how many specimens a result folder was begun; 0 where there is none yet."""
    return int(_read_manifest(folder)["specimens"]) if (folder / MANIFEST).exists() else 0
