"""One row a run of the fault series: how it ended without a guard, and what each guard alone would have made of it."""

from typing import Any, Final

import numpy as np

from controllers.guards import GUARDS
from sim.series.row import MEASURES

PIN: Final = "mechanical-stop"
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
STOPPERS: Final = (*GUARDS, PIN)
"""What can stop a run that was made without it: cut back to its instant, the run tells what is left."""
FAULT_ROW: Final = np.dtype([*BARE, *((f"{each} {name}", kind) for each in STOPPERS for name, kind in AFTER)])
