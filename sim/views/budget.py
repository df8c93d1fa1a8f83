"""Error budgets in words and in a table of 80 columns."""

from collections.abc import Sequence
from typing import Final

from sim.design.error_budget import Budget
from sim.views.numbers import number
from sim.views.tables import Table

HEADERS: Final = {
    "ear bias": "ear\nbias", "ear per run": "per\nrun", "ear per pluck": "per\npluck", "ear per reading": "per\nread.",
    "ear clock": "clock", "motor step": "motor\nstep", "deadband": "dead-\nband", "slop": "slop",
    "nut relaxation": "nut", "temperature": "temp.",
}  # fmt: skip
ADVICE: Final = {
    "ear bias": "correct the ear's bias in firmware",
    "ear per run": "take another detector, or put the microphone elsewhere",
    "ear per pluck": "finish on more plucks",
    "ear per reading": "finish on more readings, or on longer windows",
    "ear clock": "calibrate the sampling clock",
    "motor step": "take a higher ratio or a finer motor",
    "deadband": "narrow the deadband",
    "slop": "take a head with less backlash, or with less friction at the post",
    "nut relaxation": "grease the nut, or pluck more before the end",
    "temperature": "let instrument and room come to one temperature first",
}
COMBINED: Final = (
    "Each share as it would be alone, for 95 of 100 tunings. Total: one-sided shares add up with their signs, spreads "
    "in squares; of motor step and deadband the wider one counts."
)


def budgets(found: Sequence[Budget]) -> Table:
    """Return what each share is worth alone, and the total, string by string."""
    rows = tuple(
        (each.string, *(number(share.alone_cents(), 2) for share in each.shares), number(each.total_cents(), 2))
        for each in found
    )
    first = found[0]
    title = f"Error budget of {first.strategy}, cents; tolerance {number(first.tolerance_cents)} cents"
    return Table(title, ("string", *(HEADERS[share.name] for share in first.shares), "total"), rows)


def helping(found: Sequence[Budget]) -> list[str]:
    """Return which strings do not keep the tolerance, and which change helps most where."""
    by_share: dict[str, list[Budget]] = {}
    for budget in found:
        by_share.setdefault(budget.helps_most().share, []).append(budget)
    return [*_beyond(found), *(_helping(share, helped) for share, helped in by_share.items())]


def _beyond(found: Sequence[Budget]) -> list[str]:
    off = [f"{each.string} ({number(each.total_cents())})" for each in found if not each.keeps_tolerance()]
    return [f"Beyond the tolerance of {number(found[0].tolerance_cents)} cents: {', '.join(off)}."] if off else []


def _helping(share: str, helped: Sequence[Budget]) -> str:
    most = max(helped, key=_gain_cents)
    strings = ", ".join(budget.string for budget in helped)
    return (
        f"Helps most on {strings}: {ADVICE[share]}. Without its {share}, {most.string} would come from "
        f"{number(most.total_cents(), 2)} to {number(most.without_cents(share), 2)} cents."
    )


def _gain_cents(budget: Budget) -> float:
    return budget.total_cents() - budget.helps_most().total_cents
