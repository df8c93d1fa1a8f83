"""Which runs make a series, and in which order: specimen by specimen, so that more specimens only add at the end."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from difflib import get_close_matches
from functools import cached_property
from hashlib import sha256
from mmap import mmap
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scenarios.schema import Scenario
from sim.series.fingerprint import fingerprint
from sim.series.row import ROW, Item

IN_MEMORY = 50_000  # rows, 6 MB; more of them go to the disk where there is a result folder
Rows = NDArray[np.void]
"""Array of dtype ``ROW``, or of one that begins like it."""


@dataclass(frozen=True, slots=True)
class RigFacts:
    """What a series needs to know of a rig, as plain data that fits into a manifest."""

    name: str
    text: str
    """The rig file as read."""
    sha256: str
    """Of ``text``."""
    data_sha256: str
    """Of every number that the rig holds, defaults of the library included."""
    strategies: tuple[str, ...]
    """All of the rig, in its order; rows hold indices into it."""
    strings: tuple[str, ...]
    """All of the rig, in its order; rows hold indices into it."""
    chosen_strategies: tuple[str, ...]
    """Those that are run, in the order asked for."""
    chosen_strings: tuple[str, ...]
    """Those that are tuned."""
    passes: int
    """Most passes of a session; 0 where a run tunes one string by itself."""
    pluck_limit: int
    """Of one string in a run."""
    time_limit_s: float
    """The same."""
    require: dict[str, float] | None
    """The rig's ``[require]``."""
    assumed: tuple[dict[str, str], ...]
    """Key, value and source of each number that the rig file does not give."""

    @classmethod
    def of(cls, scenario: Scenario) -> "RigFacts":
        """Return the facts of a scenario, with every strategy and string chosen."""
        strategies = tuple(strategy.name for strategy in scenario.strategies)
        passes = scenario.session.nominal().most_passes if scenario.whole else 0
        return cls(
            name=scenario.name,
            text=scenario.text,
            sha256=sha256(scenario.text.encode()).hexdigest(),
            data_sha256=fingerprint(scenario),
            strategies=strategies,
            strings=tuple(scenario.strings),
            chosen_strategies=strategies,
            chosen_strings=tuple(scenario.strings),
            passes=passes,
            pluck_limit=scenario.task.pluck_limit * max(1, passes),
            time_limit_s=scenario.task.time_limit_s * max(1, passes),
            require=None if scenario.require is None else asdict(scenario.require),
            assumed=tuple(asdict(assumed) for assumed in scenario.assumed),
        )

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "RigFacts":
        """Return the facts that ``dataclasses.asdict`` and JSON made plain."""
        values: dict[str, Any] = {
            key: tuple(value) if isinstance(value, list) else value for key, value in plain.items()
        }
        return cls(**values)


def chosen(wanted: Sequence[str] | None, known: Sequence[Sequence[str]], what: str) -> list[tuple[str, ...]]:
    """Return, rig by rig, which of its names are wanted (None = all), in the order asked for.

    Raises ``ValueError`` for a name that no rig has, with the nearest, and for a rig that has none of them.
    """
    if wanted is None:
        return [tuple(names) for names in known]
    everything = list(dict.fromkeys(name for names in known for name in names))
    for name in wanted:
        if name not in everything:
            near = get_close_matches(name, everything, 1, 0.4)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise ValueError(f"no {what} is named {name}; known: {', '.join(everything)}{hint}")
    picked = [tuple(dict.fromkeys(name for name in wanted if name in names)) for names in known]
    if not all(picked):
        raise ValueError(f"a rig has no {what} named {' or '.join(wanted)}; known: {', '.join(everything)}")
    return picked


@dataclass(frozen=True)
class Grid:
    """All runs of a series: every chosen string and strategy of every rig, on the same specimens and tunings."""

    rigs: tuple[RigFacts, ...]
    specimens: int
    tunings: int

    @cached_property
    def cells(self) -> tuple[tuple[int, int, int], ...]:
        """Rig, string and strategy (indices) of the runs of one specimen and tuning, in order."""
        return tuple(
            (place, rig.strings.index(string), rig.strategies.index(strategy))
            for place, rig in enumerate(self.rigs)
            for string in rig.chosen_strings
            for strategy in rig.chosen_strategies
        )

    def __len__(self) -> int:
        return self.specimens * len(self.cells) * self.tunings

    def item(self, number: int) -> Item:
        """Return the run with a number from 0."""
        rest, tuning = divmod(number, self.tunings)
        specimen, cell = divmod(rest, len(self.cells))
        rig, string, strategy = self.cells[cell]
        return Item(rig, strategy, string, specimen, tuning)

    def numbers(self, rows: Rows) -> NDArray[np.int64]:
        """Return the number of each row; -1 for a row that does not belong to the series."""
        cell = np.full(len(rows), -1, dtype=np.int64)
        for place, (rig, string, strategy) in enumerate(self.cells):
            cell[(rows["rig"] == rig) & (rows["string"] == string) & (rows["strategy"] == strategy)] = place
        outside = (cell < 0) | (rows["specimen"] >= self.specimens) | (rows["tuning"] >= self.tunings)
        number = (rows["specimen"].astype(np.int64) * len(self.cells) + cell) * self.tunings + rows["tuning"]
        return np.where(outside, -1, number)

    def runs(self, rows: Rows, rig: int, strategy: str) -> dict[str, Rows]:
        """Return the rows of a strategy by string name, each of shape (specimens, tunings)."""
        facts, shaped = self.rigs[rig], rows.reshape(self.specimens, len(self.cells), self.tunings)
        which = facts.strategies.index(strategy)
        cells = [(rig, facts.strings.index(name), which) for name in facts.chosen_strings]
        return {name: shaped[:, self.cells.index(cell)] for name, cell in zip(facts.chosen_strings, cells, strict=True)}


class Sheet:
    """The rows of a series as they come in, each at its place in one array."""

    def __init__(self, grid: Grid, folder: Path | None = None, dtype: np.dtype[Any] = ROW) -> None:
        """Begin empty; more than ``IN_MEMORY`` rows are kept in a file without a name in ``folder``, if there is one.

        Raises ``OSError`` where the disk has no room for them.
        """
        self.grid = grid
        large = folder is not None and len(grid) > IN_MEMORY
        self.rows: Rows = _on_disk(len(grid), folder, dtype) if large else np.zeros(len(grid), dtype=dtype)
        self.known: NDArray[np.bool_] = np.zeros(len(grid), dtype=np.bool_)

    def put(self, rows: Rows) -> NDArray[np.int64]:
        """Put rows at their places and return these; rows of another series are passed over."""
        numbers = self.grid.numbers(rows)
        inside = numbers >= 0
        self.rows[numbers[inside]] = rows[inside]
        self.known[numbers[inside]] = True
        return numbers[inside]

    def done(self) -> int:
        """Return how many runs are known."""
        return int(np.count_nonzero(self.known))


def _on_disk(many: int, folder: Path | None, dtype: "np.dtype[Any]") -> Rows:
    """Return rows of zeros that live in a temporary file, which ends with them; its room is taken at once."""
    with TemporaryFile(dir=folder) as file:
        for first in range(0, many, IN_MEMORY):
            file.write(bytes(dtype.itemsize * min(IN_MEMORY, many - first)))
        file.flush()
        return np.frombuffer(mmap(file.fileno(), 0), dtype=dtype)


class Missing:
    """Runs of a sheet still to do, as items made when asked for; their ``rig`` is its place among ``rigs``."""

    def __init__(self, sheet: Sheet, rigs: Sequence[int]) -> None:
        self._grid, self._numbers = sheet.grid, np.flatnonzero(~sheet.known)
        self._rigs = {rig: place for place, rig in enumerate(rigs)}

    def __len__(self) -> int:
        return len(self._numbers)

    def __getitem__(self, span: slice) -> list[Item]:
        items = (self._grid.item(int(number)) for number in self._numbers[span])
        return [replace(item, rig=self._rigs[item.rig]) for item in items]
