"""Writing results: never in place, always aside and renamed."""

import csv
import io
import json
import math
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from sim.series.grid import RigFacts, Rows
from sim.trace import Outcome

BLOCK = 4096  # rows held as text at once
INDICES = ("rig", "strategy", "string", "outcome")
OUTCOMES = tuple(outcome.name.lower().replace("_", " ") for outcome in Outcome)


def aside(path: Path) -> Path:
    """Return where a file is written before it is put in its place."""
    return path.with_name(path.name + ".part")


def write_aside(path: Path, text: str) -> None:
    """Write a text beside ``path`` and put it there in one step, so that nobody ever sees half of it."""
    write_lines(path, (text,))


def write_lines(path: Path, texts: Iterable[str]) -> None:
    """Do the same with texts that are made as they are written."""
    with aside(path).open("w", encoding="utf-8", newline="") as file:
        file.writelines(texts)
        file.flush()
        os.fsync(file.fileno())
    os.replace(aside(path), path)


def to_json(value: Any) -> str:
    """Return JSON text with a newline at its end; nan and infinity become null."""
    return json.dumps(_finite(value), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(inner) for inner in value]
    return value


def to_csv(rigs: tuple[RigFacts, ...], rows: Rows) -> Iterator[str]:
    """Give rows as CSV, block by block: names for indices, full precision, an empty cell for what does not apply.

    Only one block is held as text, so that a table of a million runs costs no memory of its own.
    """
    yield _lines([rows.dtype.names or ()])
    for first in range(0, len(rows), BLOCK):
        yield _lines(_cells(rigs, rows[first : first + BLOCK]))


def _lines(cells: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(cells)
    return text.getvalue()


def _cells(rigs: tuple[RigFacts, ...], rows: Rows) -> Iterator[tuple[str, ...]]:
    places = [rigs[rig] for rig in rows["rig"].tolist()]
    named = {
        "rig": [safe_text(rig.name) for rig in places],
        "strategy": [safe_text(rig.strategies[at]) for rig, at in zip(places, rows["strategy"].tolist(), strict=True)],
        "string": [safe_text(rig.strings[at]) for rig, at in zip(places, rows["string"].tolist(), strict=True)],
        "outcome": [OUTCOMES[at] for at in rows["outcome"].tolist()],
    }
    return zip(*(named[name] if name in named else _texts(rows[name]) for name in rows.dtype.names or ()), strict=True)


def safe_text(text: str) -> str:
    """Return a name that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _texts(column: NDArray[Any]) -> list[str]:
    values = column.tolist()
    if column.dtype.kind == "f":
        return ["" if math.isnan(value) else repr(value) for value in values]
    return [str(value).lower() if column.dtype.kind == "b" else str(value) for value in values]
