"""The unknowns as tables of words, and as a page."""

from collections.abc import Mapping
from typing import Any, Final

from scenarios.schema import Scenario
from sim.series.unknowns import resolved
from sim.series.unknowns_words import MEASURES, sentences, settled_by
from sim.views.page import CHANCE, bullets, page
from sim.views.tables import Table

Found = Mapping[str, Any]
MOST: Final = 10  # keys a table; the others are said to lie below
NOTE: Final = (
    "alone: share of the variance that goes when the key becomes known. in all: with what it does together with "
    "others. 95 % intervals resample the rows of the design."
)


def tables(found: Found, scenario: Scenario) -> list[Table]:
    """Return a table for each strategy and measure that varies."""
    return [
        _table(f"{one['strategy']}: what decides about {MEASURES[measure]}", listed, scenario)
        for one in found["strategies"]
        for measure, listed in one["measures"].items()
        if listed
    ]


def _table(title: str, listed: list[dict[str, Any]], scenario: Scenario) -> Table:
    rows = tuple(
        (one["key"], _index(one["first"]), _index(one["total"], sure=resolved(one)), settled_by(one["key"], scenario))
        for one in listed[:MOST]
    )
    left = listed[MOST:]
    rest = f"; {len(left)} more at most {100 * left[0]['total']['index']:.0f} % each" if left else ""
    return Table(f"{title}, % of variance{rest}", ("key", "alone", "in all", "settled by"), rows, left=1)


def _index(index: Mapping[str, float], *, sure: bool | None = None) -> str:
    if sure is False or (sure is None and index["low"] <= 0.0 <= index["high"]):
        return "not resolved"
    return f"{100 * index['index']:.0f} ({100 * index['low']:.0f}-{100 * index['high']:.0f})"


def unknowns_page(found: Found, scenario: Scenario, command: str) -> str:
    """Return the page in Markdown; ``command`` repeats the study."""
    question = (
        f"Which unknown of {found['rig']} matters most? Asked of {found['machines']} simulated machines, crossed one "
        f"unknown at a time, seed {found['seed']}."
    )
    sections = {
        "Question": [question],
        "Verdict": bullets(sentences(found, scenario)),
        "Evidence": [*(table.markdown() for table in tables(found, scenario)), NOTE, CHANCE],
    }
    assumed = [{"key": one.key, "value": one.value, "source": one.source} for one in scenario.assumed]
    return page(f"Unknowns: {found['rig']}", sections, assumed, command)
