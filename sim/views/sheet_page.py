"""The whole design sheet in words, as data, and as a page that is handed over."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from scenarios.schema import Scenario
from sim.design.error_budget import plain
from sim.design.whole import Whole
from sim.views import budget, cost, sheet
from sim.views.page import CAUTION, bullets, page
from sim.views.tables import Table
from sim.views.theory import Section

PICTURES = {
    "pitch_steps": "Smallest pitch step of every string against the tolerance",
    "error_budget": "Error budget of every string against the tolerance",
    "turning_senses": "Which way every knob tightens",
}
"""Stem of the file -> what it shows."""


def tables(whole: Whole, scenario: Scenario) -> list[Table]:
    """Return all tables of a whole sheet."""
    return [*sheet.tables(whole.sheet, scenario), budget.budgets(whole.budgets), cost.prices(whole.bill)]


def findings(whole: Whole) -> list[str]:
    """Return what a whole sheet says in sentences."""
    mending = cost.mending(whole.remedies)
    return [*sheet.findings(whole.sheet), *mending, *budget.helping(whole.budgets), cost.cost(whole.bill)]


def sheet_page(
    whole: Whole, scenario: Scenario, cannot: Sequence[str], command: str, theory: Section | None = None
) -> str:
    """Return the page in Markdown; ``cannot`` says why the rig cannot be run, ``command`` repeats the sheet."""
    verdict = [*(f"Cannot run: {line}." for line in cannot), *findings(whole), *(theory.findings if theory else ())]
    pictures = [f"![{shows}]({stem}.svg)" for stem, shows in PICTURES.items()]
    sections = {
        "Verdict": bullets(verdict),
        "Evidence": [*(table.markdown() for table in tables(whole, scenario)), sheet.JUDGED, "", budget.COMBINED],
        "Pictures": ["\n\n".join(pictures)],
    }
    if theory:
        sections["Theory"] = [*(table.markdown() for table in theory.tables), "\n\n".join(theory.notes)]
    return page(f"Design sheet: {scenario.name}", sections, [asdict(each) for each in scenario.assumed], command)


def as_data(whole: Whole, scenario: Scenario, cannot: Sequence[str], theory: Section | None = None) -> dict[str, Any]:
    """Return a whole sheet as plain data, units in the keys or beside the numbers."""
    return {
        **sheet.as_data(whole.sheet, scenario),
        "error_budgets": [plain(each) for each in whole.budgets],
        **cost.as_data(whole.bill, whole.remedies),
        "cannot_run": list(cannot),
        "findings": findings(whole),
        "caution": CAUTION,
        **({"theory": theory.data} if theory else {}),
    }
