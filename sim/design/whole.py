"""The whole design sheet: checks, error budgets, the bill, and what would mend what does not fit."""

from collections.abc import Mapping
from dataclasses import dataclass

from scenarios.schema import Scenario
from sim.design.bill import Bill, bill
from sim.design.cheapest import Remedy, remedies
from sim.design.error_budget import Budget, error_budget
from sim.design.sheet import Sheet, design


@dataclass(frozen=True, slots=True)
class Whole:
    """All that is said of a rig before any run."""

    sheet: Sheet
    budgets: tuple[Budget, ...]
    """Of every string, after the rig's first strategy."""
    bill: Bill
    remedies: Mapping[str, Remedy | None]
    """By check that does not fit: the cheapest part of the library that mends it, None where there is none."""

    def fits(self) -> bool:
        """Return whether every check is met, and the limit of the price as far as prices are known."""
        return "does not fit" not in (self.sheet.verdict(), self.bill.verdict())


def whole(scenario: Scenario) -> Whole:
    """Return the whole sheet of a rig."""
    sheet = design(scenario)
    budgets = tuple(error_budget(scenario, string) for string in scenario.strings)
    return Whole(sheet, budgets, bill(scenario), remedies(scenario, sheet.rows))
