"""The journal: one JSON line a run, appended as runs finish; a line once written survives a kill."""

import json
import math
import os
import time
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from sim.series.grid import Rows
from sim.series.row import ROW

SYNC_S = 1.0  # least time between two orders to the disk
BLOCK = 4096  # lines held as text at once


class Journal:
    """Appends rows to a file: whole lines in one unbuffered write, sent to the disk at most once a second."""

    def __init__(self, path: Path) -> None:
        """Open for appending; a torn last line of an earlier session is cut off."""
        _cut_torn_tail(path)
        self._file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
        self._synced_s = time.monotonic()

    def append(self, rows: Rows) -> None:
        """Write one line for each row, block by block."""
        names = rows.dtype.names or ()
        for first in range(0, len(rows), BLOCK):
            block = rows[first : first + BLOCK].tolist()
            self._write("".join(_line(names, row) for row in block).encode())

    def _write(self, lines: bytes) -> None:
        left = memoryview(lines)
        while left:
            left = left[os.write(self._file, left) :]
        if time.monotonic() - self._synced_s >= SYNC_S:
            self._sync()

    def close(self) -> None:
        """Send everything to the disk and close."""
        self._sync()
        os.close(self._file)

    def _sync(self) -> None:
        os.fsync(self._file)
        self._synced_s = time.monotonic()


def read_journal(path: Path, dtype: "np.dtype[Any]" = ROW) -> Iterator[Rows]:
    """Give the rows of a journal, block by block; a torn last line is passed over.

    Raises ``ValueError`` (one line, with the number of the line) for a line that is no row.
    """
    if not path.exists():
        return
    with path.open("rb") as file:
        first = 1
        while block := list(islice(file, BLOCK)):
            whole = [line for line in block if line.endswith(b"\n")]
            rows = [_row(dtype.names or (), line, f"{path}:{number}") for number, line in enumerate(whole, first)]
            yield np.array(rows, dtype=dtype)
            first += len(block)


def _line(names: Sequence[str], row: tuple[Any, ...]) -> str:
    values = [None if isinstance(value, float) and math.isnan(value) else value for value in row]
    return json.dumps(dict(zip(names, values, strict=True)), separators=(",", ":"), allow_nan=False) + "\n"


def _row(names: Sequence[str], line: bytes, where: str) -> tuple[Any, ...]:
    try:
        values = json.loads(line)
        return tuple(math.nan if values[name] is None else values[name] for name in names)
    except (ValueError, KeyError, TypeError):
        raise ValueError(f"{where}  is no row of a journal; was the file edited?") from None


def _cut_torn_tail(path: Path) -> None:
    if not path.exists():
        return
    with path.open("r+b") as file:
        end = file.seek(0, os.SEEK_END)
        while end > 0:
            begin = max(0, end - 65536)
            file.seek(begin)
            newline = file.read(end - begin).rfind(b"\n")
            if newline >= 0:
                file.truncate(begin + newline + 1)
                return
            end = begin
        file.truncate(0)
