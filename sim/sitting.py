"""Measures of one string in a session: its visits together, and where it stands when the session is over."""

import math

from models.messages import Task
from sim import metrics
from sim.corners import course
from sim.session import Sitting
from sim.trace import Outcome

SUMS = ("plucks", "readings", "reversals", "turned_deg", "energy_j", "charge_c", "regrips")
HIGHEST = ("overshoot_cents", "percent_of_breaking")


def measured(sitting: Sitting, string: str, task: Task) -> tuple[Outcome, dict[str, float]]:
    """Return how the last visit of a string ended, and every measure by name; flags as booleans.

    Effort is that of all visits, carrying included; pitch is that at the end of the session, in tune also relaxed. A
    string that a machine never came to, because it refused to go on, counts as given up.
    """
    visits = sitting.visits[string]
    each = [metrics.measured(course(visit.record)) for visit in visits]
    outcome = visits[-1].record.outcome if visits else Outcome.GAVE_UP
    errors = _errors(sitting, string, task)
    values = {
        **{name: sum(one[name] for one in each) for name in SUMS},
        **{name: max((one[name] for one in each), default=0.0) for name in HIGHEST},
        "finished": outcome is Outcome.FINISHED,
        "broken": any(one["broken"] for one in each),
        "in_tune": metrics.in_tune(outcome, errors, task.tolerance_cents),
        "final_error_cents": errors[0],
        "relaxed_error_cents": errors[1],
        "seconds": sum(visit.seconds() for visit in visits),
        "settling_s": math.nan,
        "start_cents": each[0]["start_cents"] if each else errors[0],
        "visits": len(visits),
    }
    return outcome, values


def _errors(sitting: Sitting, string: str, task: Task) -> tuple[float, float]:
    """Return the error in the end and once plucks have relaxed the nut; nan when broken."""
    chain, angles = sitting.rigs[string].chain, sitting.stands[string].angles
    if any(visit.record.outcome is Outcome.STRING_BROKE for visit in sitting.visits[string]):
        return math.nan, math.nan
    at_once, relaxed = angles.speaking_n, chain.plucked(angles, 1.0).speaking_n
    first, second = (chain.string.error_cents(chain.drifted_n(each, 0.0), task.pitch) for each in (at_once, relaxed))
    return first, second
