"""From rows of the fault series to cells: what each set of guards makes of each fault."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.series.fault_row import PIN
from sim.series.grid import Rows
from sim.series.shares import Flags, share

SOUND: Final = "none"
"""The name of no fault."""


def together(fault: str) -> tuple[str, ...]:
    """Return the faults that a name stands for: several at once are joined by a plus."""
    return () if fault == SOUND else tuple(fault.split("+"))


@dataclass(frozen=True, slots=True)
class Variant:
    """A rig of the series: a fault or several at once, and the hardware that is fitted."""

    fault: str
    hardware: tuple[str, ...]

    def name(self) -> str:
        """Return what the rig is called."""
        return " with ".join([self.fault, *([" and ".join(self.hardware)] if self.hardware else [])])


class Guarding(NamedTuple):
    """A set of guards by the name that cells give it."""

    name: str
    stoppers: tuple[str, ...]
    """What is told from runs without it; the stop of the knob is among them."""
    hardware: tuple[str, ...]


class Ended(NamedTuple):
    """How runs end under a set of guards; arrays of one length."""

    broken: Flags
    by: NDArray[np.int64]
    """Place of the guard that stops the run among them; -1 = none."""
    percent: NDArray[np.float64]
    left_cents: NDArray[np.float64]
    """Pitch error in which the string is left; nan when slack or broken."""
    plucks: NDArray[np.float64]
    readings: NDArray[np.float64]
    """From the fault's first act to the stop, like seconds and degrees; nan for runs that no guard stops."""
    seconds: NDArray[np.float64]
    degrees: NDArray[np.float64]


def guardings(stoppers: Sequence[str], hardware: Sequence[str]) -> list[Guarding]:
    """Return the sets that are looked at: none, each alone, hardware, all, all but one."""
    every, fitted = tuple(stoppers), tuple(hardware)
    alone = [Guarding(name, (name,), ()) for name in every] + [Guarding(name, (), (name,)) for name in fitted]
    but = [Guarding(f"all-but:{name}", _without(every, name), _without(fitted, name)) for name in (*every, *fitted)]
    pin = (PIN,) if PIN in every else ()
    whole = [Guarding("hardware", pin, fitted)] if fitted or pin else []
    return [Guarding("none", (), ()), *alone, *whole, Guarding("all", every, fitted), *but]


def _without(names: tuple[str, ...], name: str) -> tuple[str, ...]:
    return tuple(each for each in names if each != name)


def ended(rows: Rows, stoppers: Sequence[str]) -> Ended:
    """Return how unguarded runs would have ended with those guards: the first trip counts."""
    at_s = np.array([rows[f"{name} s"] for name in stoppers]).reshape(len(stoppers), len(rows))
    due = np.where(np.isnan(at_s), np.inf, at_s)
    first = due.argmin(axis=0) if stoppers else np.zeros(len(rows), dtype=np.int64)
    by = np.where(due.min(axis=0, initial=np.inf) < np.inf, first, -1).astype(np.int64)
    ends = [
        _picked(rows, stoppers, by, name, rows[bare])
        for name, bare in (
            ("percent_of_breaking", "percent_of_breaking"), ("left_cents", "final_error_cents"), ("plucks", "plucks"),
        )
    ]  # fmt: skip
    ways = [_picked(rows, stoppers, by, name, math.nan) for name in ("readings", "after_s", "turned_deg")]
    return Ended(_picked(rows, stoppers, by, "broken", rows["broken"]).astype(np.bool_), by, *ends, *ways)


def _picked(rows: Rows, stoppers: Sequence[str], by: NDArray[np.int64], name: str, bare: Any) -> NDArray[np.float64]:
    """Return what the guard that stops each run says of it; ``bare`` where none does."""
    values = np.broadcast_to(np.asarray(bare, dtype=np.float64), len(rows))
    for place, guard in enumerate(stoppers):
        values = np.where(by == place, rows[f"{guard} {name}"], values)
    return values


def cell(fault: str, guarding: Guarding, rows: Rows) -> dict[str, Any]:
    """Return what is found in the runs of one fault, one string and one strategy under a set of guards."""
    found = ended(rows, guarding.stoppers)
    broken, stopped = share(found.broken[:, None]), found.by >= 0
    return {
        "fault": fault,
        "guards": guarding.name,
        "runs": len(rows),
        "broken": {name: broken[name] for name in ("count", "of", "high")},
        "stopped_by": {
            name: int(count)
            for place, name in enumerate(guarding.stoppers)
            if (count := np.count_nonzero(found.by == place))
        },
        "unnoticed": int(np.count_nonzero(~found.broken & ~stopped)),
        "percent_of_breaking": _highest(found.percent),
        "readings_to_stop": _middle(found.readings),
        "seconds_to_stop": _middle(found.seconds),
        "degrees_to_stop": _middle(found.degrees),
        "left_cents": _middle(found.left_cents),
        "plucks": int(found.plucks.sum()),
        "plucks_to_stop": int(found.plucks[stopped].sum()),
    }


def _highest(values: NDArray[np.float64]) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.max()) if known.size else None


def _middle(values: NDArray[np.float64]) -> float | None:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else None
