"""Whether a setting meets what is required, how far it misses, and which requirement stops it."""

from collections.abc import Mapping
from typing import Final

import numpy as np

from scenarios.schema import Scenario
from sim.design.facts import describe
from sim.design.hearing import plucks_to_finish
from sim.series.measures import Tried, effort, known
from sim.series.require import LEVEL, MEETS, meeting, required

SURE, LIKELY, MISSED = "meets", "likely", "fails"
"""Met with the whole interval; met as far as counted; not met."""
WORDS: Final = {
    "specimens meeting": "too few machines in tune",
    "plucks p95": "too many plucks",
    "seconds p95": "too many seconds",
    "percent of breaking max": "too near to breaking",
}
"""Requirement, and what it says when it stops a setting."""


def shortfalls(one: Tried) -> dict[str, float]:
    """Return by how much each requirement is missed, 0 where it is met as far as counted.

    Of machines: the share that lacks. Of plucks and seconds: the share of runs beyond what is allowed, above the 5 in
    100 that may be. Of tension: the excess in parts of what is allowed.
    """
    wanted = one.facts.require or {}
    runs = one.all_runs()
    tension = known(runs, "percent_of_breaking")
    highest = float(tension.max()) if tension.size else 0.0
    missed = {
        "specimens meeting": wanted["specimens_share"] - float(meeting(one).mean()),
        **{f"{name} p95": _beyond(one, name, wanted[name]) - (1.0 - LEVEL) for name in ("plucks", "seconds")},
        "percent of breaking max": highest / wanted["percent_of_breaking"] - 1.0,
    }
    return {name: max(0.0, lacking - 1e-12) for name, lacking in missed.items()}


def _beyond(one: Tried, measure: str, wanted: float) -> float:
    return float(np.mean(effort(one.all_runs(), measure) > wanted))


def stopping(missed: Mapping[str, float]) -> str | None:
    """Return the requirement that is missed most, None when all are met."""
    worst = max(missed, key=lambda name: missed[name])
    return worst if missed[worst] > 0.0 else None


def verdict(one: Tried, missed: Mapping[str, float]) -> str:
    """Return ``SURE``, ``LIKELY`` or ``MISSED``."""
    if stopping(missed):
        return MISSED
    return SURE if all(line["verdict"] == MEETS for line in required(one)) else LIKELY


def contradictions(scenario: Scenario) -> list[str]:
    """Return, a line each, what no setting of a controller could meet of a rig's ``[require]``."""
    wanted, found = scenario.require, []
    if wanted is None:
        return []
    plucks = plucks_to_finish(scenario)
    seconds = plucks * float(scenario.player.drawn(lambda key: 0.0).pluck_s)
    if wanted.plucks < plucks:
        found.append(f"require.plucks = {wanted.plucks:g}, but the task's finish alone takes {plucks}")
    if wanted.seconds < seconds:
        found.append(f"require.seconds = {wanted.seconds:g}, but {plucks} plucks to finish take {seconds:g} s")
    tightest = max(describe(scenario), key=lambda facts: facts.percent_of_breaking)
    if wanted.percent_of_breaking < tightest.percent_of_breaking:
        at_pitch = f"{tightest.string} is at {tightest.percent_of_breaking:.1f} % when it is in tune"
        found.append(f"require.percent_of_breaking = {wanted.percent_of_breaking:g}, but {at_pitch}")
    return found
