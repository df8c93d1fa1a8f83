"""The page of a sweep, and what stands under its tables."""

from collections.abc import Mapping
from typing import Any

from sim.series.require import LEVEL
from sim.series.statistics import clean_runs_for
from sim.series.sweep_words import sentences
from sim.series.until import RULE
from sim.views.page import CHANCE, bullets, page
from sim.views.sweep import tables

__all__ = ["notes", "sentences", "sweep_page"]

Summary = Mapping[str, Any]


def notes(summary: Summary) -> list[str]:
    """Return what was required, how the choice was made, and what pairing was worth."""
    return [_required(summary), *_few(summary), f"Chosen: {summary['rule']}.", *_pairing(summary), *_until(summary)]


def _required(summary: Summary) -> str:
    wanted = summary["require"]
    return (
        f"Required ({summary['require_from']}): at least {100 * wanted['tuned_share']:g} % of tunings in tune on "
        f"{100 * wanted['specimens_share']:g} % of machines; in 95 of 100 runs at most {wanted['plucks']:g} plucks and "
        f"{wanted['seconds']:g} s; at most {wanted['percent_of_breaking']:g} % of breaking tension."
    )


def _few(summary: Summary) -> list[str]:
    needed = clean_runs_for(1.0 - LEVEL)
    few = summary["specimens"] < needed
    return [f"Plucks and seconds are judged for sure from {needed} machines on (--rigs)."] if few else []


def _pairing(summary: Summary) -> list[str]:
    ratios = [f"{one['strategy']} {one['pairing']:.2f}" for one in summary["answers"] if one["pairing"] is not None]
    if not ratios:
        return []
    return [f"Same machines and draws at all values: paired interval of plucks over unpaired {', '.join(ratios)}."]


def _until(summary: Summary) -> list[str]:
    found = summary.get("until")
    if found is None:
        return []
    told = "reached" if found["reached"] else "not reached"
    return [f"--until {found['width']:g}: {told} with {summary['specimens']} machines. Rule: {RULE}."]


def sweep_page(summary: Summary, command: str) -> str:
    """Return the page in Markdown; ``command`` repeats the sweep."""
    keys = " and ".join(axis["key"] for axis in summary["axes"])
    question = (
        f"Which value of {keys} should be taken, and how far may it be off? Asked of {summary['specimens']} simulated "
        f"machines, each tuned {summary['tunings']} times at every value, seed {summary['seed']}."
    )
    sections = {
        "Question": [question],
        "Verdict": bullets([*sentences(summary), *notes(summary)]),
        "Evidence": [*(table.markdown() for table in tables(summary)), CHANCE],
    }
    return page(f"Sweep: {summary['rig']}, {keys}", sections, summary["assumed"], command)
