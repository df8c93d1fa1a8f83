"""Invented series for tests: facts of a rig without a rig, and rows whose every number is chosen."""

import numpy as np

from sim.series.grid import Grid, RigFacts, Rows
from sim.series.row import ROW
from sim.trace import Outcome

OUTCOMES = list(Outcome)
FINISHED, BROKE, PLUCK_LIMIT = (
    OUTCOMES.index(one) for one in (Outcome.FINISHED, Outcome.STRING_BROKE, Outcome.PLUCK_LIMIT)
)
REQUIRE = {"tuned_share": 0.9, "specimens_share": 0.9, "plucks": 20.0, "seconds": 60.0, "percent_of_breaking": 80.0}


def facts(
    name: str = "invented", strategies: tuple[str, ...] = ("slow", "quick"), strings: tuple[str, ...] = ("E2", "G3"),
    require: dict[str, float] | None = None,
) -> RigFacts:  # fmt: skip
    return RigFacts(
        name=name, text="", sha256="", data_sha256="", strategies=strategies, strings=strings,
        chosen_strategies=strategies, chosen_strings=strings, passes=0, pluck_limit=60, time_limit_s=300.0,
        require=require,
        assumed=(),
    )  # fmt: skip


def all_good(grid: Grid) -> Rows:
    """Return rows that all finish in tune with the same measures, so that a test changes what it is about."""
    rows = np.zeros(len(grid), dtype=ROW)
    for number in range(len(grid)):
        item = grid.item(number)
        for name in type(item).__slots__:
            rows[name][number] = getattr(item, name)
    rows["outcome"], rows["finished"], rows["in_tune"] = FINISHED, True, True
    rows["plucks"], rows["seconds"], rows["percent_of_breaking"] = 10, 20.0, 60.0
    rows["final_error_cents"], rows["overshoot_cents"] = 1.0, 0.5
    return rows
