"""A search as words: what it cost, what won, and how the winner did on fresh seeds."""

from collections.abc import Mapping
from typing import Any, Final

from sim.series.sweep_judge import WORDS, stopping
from sim.series.sweep_words import setting
from sim.views.numbers import NONE, number
from sim.views.tables import Table, requirements

Summary = Mapping[str, Any]
SAID: Final = {
    "in_tune": "of tunings in tune", "plucks": "plucks", "seconds": "seconds", "overshoot_cents": "cents of overshoot",
    "percent_of_breaking": "% of breaking tension",
}  # fmt: skip


def tables(summary: Summary) -> list[Table]:
    """Return the rounds, and the verdict on the winner."""
    rows = tuple(
        (str(place), str(one["settings"]), str(one["specimens"]), setting(summary["axes"], one["best"]))
        for place, one in enumerate(summary["rounds"], 1)
    )
    rounds = Table("Rounds of the search", ("round", "settings", "machines", "leading"), rows, left=0)
    lines = [line | {"rig": summary["rig"]} for line in summary["require"]]
    return [rounds, requirements({"require": lines, "rigs": [summary["rig"]]})]


def sentences(summary: Summary) -> list[str]:
    """Return what won and the number that may be quoted."""
    low, high = summary["low"], summary["high"]
    interval = "" if low is None else f" ({number(low)} to {number(high)})"
    stop = stopping(summary["missed"])
    said = (
        "It meets what is required as far as counted" if stop is None else f"It fails what is required: {WORDS[stop]}"
    )
    return [
        f"{summary['strategy']}: best of those tried is {setting(summary['axes'], summary['values'])}.",
        f"On {summary['specimens']} fresh machines it has a mean of {number(summary['mean']) or NONE} "
        f"{SAID[summary['measure']]}{interval}. {said}.",
    ]


def stated(runs: int, settings: int, measure: str) -> str:
    """Return what a search is going to cost."""
    return (
        f"search for {SAID[measure]}: {settings} settings in the first round, the poorer half dropped three times; "
        f"at most {runs} runs, those of the winner on fresh seeds included"
    )
