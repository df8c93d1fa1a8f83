"""``python -m tests.benchmarks.rows N``: keep, sum up and write about N invented rows; print a line of JSON."""

import json
import resource
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from scenarios.load import load_rig
from sim.series.grid import Grid, RigFacts, Rows, Sheet
from sim.series.journal import BLOCK
from sim.series.row import ROW
from sim.series.store import Store
from sim.series.summary import summarise


def invented(grid: Grid) -> Iterator[Rows]:
    """Give rows of a grid of one rig, block by block, as runs that mostly end well."""
    chance = np.random.default_rng(1)
    for first in range(0, len(grid), BLOCK):
        number = np.arange(first, min(first + BLOCK, len(grid)))
        rows = np.zeros(len(number), dtype=ROW)
        rows["specimen"], cell = np.divmod(number, len(grid.cells))
        rows["rig"], rows["string"], rows["strategy"] = np.array(grid.cells)[cell].T
        rows["finished"], rows["in_tune"] = True, chance.random(len(number)) < 0.97
        rows["plucks"] = chance.poisson(6 + rows["strategy"])
        for name in ("seconds", "overshoot_cents", "final_error_cents", "percent_of_breaking", "energy_j"):
            rows[name] = chance.gamma(6.0, 2.0, len(number))
        yield rows


def megabytes() -> tuple[float, float]:
    """Return the peak of a process's memory without the pages of files, and these, which the system takes back."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    of_files = next(int(line.split()[1]) for line in lines if line.startswith("RssFile")) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 - of_files, of_files


def kept(many: int) -> dict[str, float]:
    """Take rows as a series with a result folder does."""
    facts = RigFacts.of(load_rig("default", changes=("require={}",)))
    grid = Grid((facts,), many // (len(facts.strings) * len(facts.strategies)), 1)
    with TemporaryDirectory() as folder, Store(Path(folder) / "out", grid, 1, (), False) as store:
        sheet, seconds = Sheet(grid, Path(folder) / "out"), [time.process_time()]
        for rows in invented(grid):
            store.append(rows)
            sheet.put(rows)
        seconds.append(time.process_time())
        summary = summarise(grid, sheet.rows, 1)
        seconds.append(time.process_time())
        store.complete(sheet.rows, summary)
        seconds.append(time.process_time())
        own, of_files = megabytes()
    taking, summing, writing = np.diff(seconds)
    return {"own_mb": own, "file_mb": of_files, "journal_s": taking, "summary_s": summing, "table_s": writing}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(kept(int(sys.argv[1]))) + "\n")
