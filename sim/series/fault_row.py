"""One row a run of the fault series: how it ended without a guard, and what each guard alone would have made of it."""

from typing import Any, Final

import numpy as np

from controllers.guards import GUARDS
from sim.series.row import MEASURES

BARE: Final[tuple[tuple[str, Any], ...]] = (
    *MEASURES[:6],  # rig, strategy, string, specimen, tuning, outcome
    ("broken", np.bool_),
    ("in_tune", np.bool_),
    ("final_error_cents", np.float64),  # nan when slack or broken
    ("percent_of_breaking", np.float64),
    ("readings", np.int32),
    ("plucks", np.int32),
    ("seconds", np.float64),
)
AFTER: Final[tuple[tuple[str, Any], ...]] = (
    ("s", np.float64),  # when it stops the run; nan = never
    ("broken", np.bool_),  # all the same
    ("percent_of_breaking", np.float64),
    ("left_cents", np.float64),  # pitch error in which it leaves the string; nan when slack or broken
    ("plucks", np.int32),  # up to the stop
    ("readings", np.int32),  # from the fault's first act to the stop, like those below
    ("after_s", np.float64),
    ("turned_deg", np.float64),
)
FAULT_ROW: Final = np.dtype([*BARE, *((f"{guard} {name}", kind) for guard in GUARDS for name, kind in AFTER)])
