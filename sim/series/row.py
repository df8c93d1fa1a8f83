"""One row a run: the parameters that it ran with and its measures, as plain numbers."""

from dataclasses import dataclass
from typing import Any

import numpy as np

MEASURES: tuple[tuple[str, Any], ...] = (
    ("rig", np.int32),  # index into the series' rigs
    ("strategy", np.int32),  # index into that rig's strategies
    ("string", np.int32),  # index into that rig's strings
    ("specimen", np.int32),
    ("tuning", np.int32),
    ("outcome", np.int32),  # index into list(sim.trace.Outcome)
    ("finished", np.bool_),
    ("in_tune", np.bool_),
    ("broken", np.bool_),
    ("final_error_cents", np.float64),  # nan when slack or broken
    ("relaxed_error_cents", np.float64),  # once plucks have relaxed the nut; nan like the final error
    ("plucks", np.int32),
    ("readings", np.int32),
    ("seconds", np.float64),
    ("overshoot_cents", np.float64),  # 0 without crossing
    ("settling_s", np.float64),  # nan when never settled
    ("reversals", np.int32),
    ("turned_deg", np.float64),
    ("energy_j", np.float64),
    ("charge_c", np.float64),
    ("percent_of_breaking", np.float64),
    ("regrips", np.int32),
    ("start_cents", np.float64),
    ("visits", np.int32),  # tunings of this string in a session; 1 for a string by itself
)
ROW = np.dtype(list(MEASURES))


@dataclass(frozen=True, slots=True)
class Item:
    """One run of a series: indices only, so that a run is a pure function of (rigs, item, seed)."""

    rig: int
    strategy: int
    string: int
    specimen: int
    tuning: int
