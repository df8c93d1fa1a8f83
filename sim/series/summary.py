"""What a comparison found, as plain data."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.series.differences import differences
from sim.series.grid import Grid, RigFacts, Rows
from sim.series.measures import Beside, Floats, Tried, effort, final_error_cents, known, limit, tried
from sim.series.require import meeting, required
from sim.series.shares import Flags, share
from sim.series.statistics import CONFIDENCE, quantile


def summarise(grid: Grid, rows: Rows, seed: int) -> dict[str, Any]:
    """Return the summary of a series; its keys are those of ``summary.json``.

    Shares carry 95 % intervals over specimens. ``null`` in a quantile means beyond the limit, and ``note`` says so.
    """
    strategies = tried(grid, rows)
    return {
        "rigs": [rig.name for rig in grid.rigs],
        "seed": seed,
        "specimens": grid.specimens,
        "tunings": grid.tunings,
        "strategies": [entry(one) for one in strategies],
        "differences": differences(strategies),
        "require": [verdict for one in strategies for verdict in required(one)],
        "assumed": assumed(grid.rigs),
    }


def assumed(rigs: tuple[RigFacts, ...]) -> list[dict[str, str]]:
    """Return what the rig files do not say, each once, with its source."""
    return list({tuple(entry.items()): entry for rig in rigs for entry in rig.assumed}.values())


def entry(one: Tried, confidence: float = CONFIDENCE) -> dict[str, Any]:
    """Return what was found of one strategy on all its strings; ``confidence`` is that of the shares' intervals."""
    flags = np.stack([runs["in_tune"] for runs in one.runs.values()], axis=1)
    head = {"rig": one.facts.name, "name": one.name}
    return (
        head
        | _runs(one.facts, one.all_runs(), confidence)
        | {
            "specimens_meeting": share(meeting(one)[:, None], confidence),
            "whole_instrument": share(np.asarray(flags.all(axis=1)), confidence),
            "by_string": {name: _runs(one.facts, runs, confidence) for name, runs in one.runs.items()},
        }
        | ({"session": _session(one)} if one.facts.passes else {})
    )


def _session(one: Tried) -> dict[str, Any]:
    """Return passes, plucks and seconds of whole sessions; one with a string left unfinished lies beyond the limit."""

    def of_strings(measure: str) -> NDArray[Any]:
        return np.stack([runs[measure] for runs in one.runs.values()])

    tuned = of_strings("finished").all(axis=0)
    spent = {
        "passes": of_strings("visits").max(axis=0),
        "plucks": of_strings("plucks").sum(axis=0),
        "seconds": of_strings("seconds").sum(axis=0),
    }
    return {name: _spread(np.where(tuned, each, np.inf), "not finished") for name, each in spent.items()}


def _runs(facts: RigFacts, rows: Rows | Beside, confidence: float) -> dict[str, Any]:
    """Return the measures of runs of shape (specimens, runs of each)."""
    tension = known(rows, "percent_of_breaking")
    return {
        "runs": rows.size,
        "in_tune": share(rows["in_tune"], confidence),
        "finished_not_in_tune": int(np.count_nonzero(rows["finished"] & ~rows["in_tune"])),
        "plucks": _effort(facts, rows, "plucks"),
        "seconds": _effort(facts, rows, "seconds"),
        "overshoot_cents": _spread(known(rows, "overshoot_cents")),
        "final_error_cents": _spread(final_error_cents(rows), "no pitch is left"),
        "percent_of_breaking": _spread(tension) | {"max": float(tension.max()) if tension.size else None},
        "broken": _broken(rows["broken"]),
    }


def _effort(facts: RigFacts, rows: Rows | Beside, measure: str) -> dict[str, Any]:
    return _spread(effort(rows, measure), f"beyond limit of {limit(facts, measure):g}")


def _spread(values: Floats, beyond: str = "") -> dict[str, Any]:
    """Return median and 95th percentile; None where they lie beyond what has a number, with a note that says so."""
    found = {"median": quantile(values, 0.5), "p95": quantile(values, 0.95)}
    plain: dict[str, Any] = {name: value if np.isfinite(value) else None for name, value in found.items()}
    return plain | {"note": beyond} if beyond and None in plain.values() else plain


def _broken(flags: Flags) -> dict[str, Any]:
    found = share(flags)
    return {"count": found["count"], "of": found["of"], "high": found["high"]}
