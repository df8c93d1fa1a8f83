"""Theory beside simulation in a table, and why they differ."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from sim.design.theory_verify import RUNS, STATED, Check, plain
from sim.views.numbers import NONE, number
from sim.views.tables import Table
from sim.views.theory import Section

WHY: Final = (
    "Why: the effect without which, switched off in the rig and run again, theory and simulation agree best; where it "
    "takes several, as few as do. Plucks: median, a tuning that does not finish counts as endless."
)


def checked(theory: Section, found: Sequence[Check]) -> Section:
    """Return a section with the simulation beside it."""
    data = {**theory.data, "checks": [plain(each) for each in found], "stated": STATED}
    return theory._replace(tables=(*theory.tables, *checks(found)), notes=(*theory.notes, STATED, WHY), data=data)


def checks(found: Sequence[Check]) -> list[Table]:
    """Return a table a strategy: predicted / simulated, and why they differ."""
    return [_checked(list(group)) for _, group in groupby(found, key=_strategy)]


def _checked(found: Sequence[Check]) -> Table:
    columns = ("string", "plucks", "finished\n%", "error\ncents", "swing\ncents", "why")
    rows = tuple((each.string, *_numbers(each), "\n".join(each.why) or NONE) for each in found)
    title = f"{found[0].strategy}: predicted / simulated, {RUNS} tunings from the same starts"
    return Table(title, columns, rows)


def _numbers(check: Check) -> list[str]:
    return [
        f"{_number(name, predicted)} / {_number(name, simulated)}{'*' if name in check.differs else ''}"
        for name, predicted, simulated in zip(check.predicted._fields, check.predicted, check.simulated, strict=True)
    ]


def _number(name: str, value: float) -> str:
    if name == "finished_share":
        return f"{100.0 * value:.0f}"
    return number(value, 2) if value < 10.0 else number(value)


def _strategy(found: Check) -> str:
    return found.strategy
