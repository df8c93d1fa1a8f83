"""The bill of a rig and the parts that would mend it, in words and tables of 80 columns."""

from collections.abc import Mapping
from typing import Any

from sim.design.bill import Bill
from sim.design.cheapest import Remedy
from sim.views.tables import Table


def prices(found: Bill) -> Table:
    """Return the bill, a line a section."""
    rows = tuple((line.section, line.source, _euros(line.eur)) for line in found.lines)
    return Table("Price of one machine", ("section", "who says so", "EUR"), rows, left=2)


def cost(found: Bill) -> str:
    """Return the total, what has no price, and how it stands to the limit."""
    unpriced = found.unpriced()
    least = "at least " if unpriced else ""
    said = f"The machine costs {least}{_euros(found.known_eur())} EUR"
    if unpriced:
        said += f"; nobody priced {', '.join(unpriced)}, and a part without a price is not free"
    return f"{said}{_limit(found)}."


def _limit(found: Bill) -> str:
    limit = f"the limit of {_euros(found.limit_eur)} EUR"
    return {
        "no limit": "",
        "fits": f", within {limit}",
        "does not fit": f", more than {limit}",
        "not known": f"; whether it keeps {limit} is not known",
    }[found.verdict()]


def _euros(eur: float | None) -> str:
    return "-" if eur is None else f"{eur:.2f}".removesuffix(".00")


def mending(remedies: Mapping[str, Remedy | None]) -> list[str]:
    """Return a sentence for each check that does not fit: the cheapest part that mends it, or that there is none."""
    return [_mending(check, remedy) for check, remedy in remedies.items()]


def _mending(check: str, remedy: Remedy | None) -> str:
    if remedy is None:
        return f"No priced part of the library makes {check} fit by itself."
    holes = "; whether it goes into its place is yours to see" if remedy.section == "head" else ""
    return f"Cheapest part that makes {check} fit: {remedy.section} {remedy.part}, {_euros(remedy.eur)} EUR{holes}."


def as_data(bill: Bill, remedies: Mapping[str, Remedy | None]) -> dict[str, Any]:
    """Return bill and remedies as plain data for JSON; null where there is no price or no part."""
    return {
        "price": {
            "known_eur": bill.known_eur(),
            "budget_eur": bill.limit_eur or None,
            "verdict": bill.verdict(),
            "unpriced": list(bill.unpriced()),
            "sections": [line._asdict() for line in bill.lines],
        },
        "cheapest_parts": {check: None if remedy is None else remedy._asdict() for check, remedy in remedies.items()},
    }
