"""A study of hearing as tables of words: one for each string, one of what each detector costs."""

from typing import Final

from sim.hearing.advice import worst_of
from sim.hearing.study import SERVES, Cell, StringFacts, Study
from sim.views.numbers import NONE, number, percent, signed
from sim.views.tables import Table

SHORT: Final = {"window too short": "too short"}
HEADER: Final = (
    "detector", "bias\ncents", "spread\ncents", "times\nbound", "95 % of\naccepted\ncents",
    "oct. up/\ndown/other/\nmissed", "verdict",
)  # fmt: skip


def tables(study: Study) -> list[Table]:
    """Return a table for each string, then the summary over strings."""
    return [*(of_string(study, facts) for facts in study.strings.values()), summary(study)]


def of_string(study: Study, facts: StringFacts) -> Table:
    """Return what every detector makes of one string."""
    cells = [each for each in study.cells if each.string == facts.string]
    allowed = "" if facts.pluck_readings is None else f"; a pluck gives {facts.pluck_readings} readings"
    title = (
        f"{facts.string} {facts.target_hz:.2f} Hz, 1 Hz = {number(facts.cents_per_hz)} cents; "
        f"bound {number(cells[0].bound_cents, 2)} cents{allowed}"
    )
    return Table(title, HEADER, tuple(_row(cell) for cell in cells))


def _row(cell: Cell) -> tuple[str, ...]:
    wrong = (cell.octave_up, cell.octave_down, cell.other, cell.missed)
    return (
        cell.detector,
        signed(cell.bias_cents),
        number(round(cell.std_cents, 3), 2),
        number(cell.std_cents / cell.bound_cents if cell.bound_cents > 0.0 else None, 2),
        number(cell.p95_cents),
        "/".join(str(each.count) for each in wrong),
        SHORT.get(cell.verdict, cell.verdict),
    )


def summary(study: Study) -> Table:
    """Return what each detector costs, how long it takes, and on how many strings it serves."""
    rows = tuple(_summed(study, name) for name in study.detectors)
    columns = (
        "detector", "s to a\nreading", "memory\nbytes", "time\nms", "fits", "serves\non", "95 % on worst\nstring",
    )  # fmt: skip
    return Table(f"All strings, in cents; tolerance {number(study.tolerance_cents)}", columns, rows)


def _summed(study: Study, name: str) -> tuple[str, ...]:
    cells = [each for each in study.cells if each.detector == name]
    slowest, worst = max(cells, key=lambda each: each.cpu_s or 0.0), worst_of(cells)
    return (
        name,
        f"{slowest.latency.total_s():.2f}",
        NONE if slowest.ram_bytes is None else str(max(each.ram_bytes or 0 for each in cells)),
        number(None if slowest.cpu_s is None else 1e3 * slowest.cpu_s, 2),
        _fits(cells),
        f"{sum(each.verdict == SERVES for each in cells)} of {len(cells)}",
        f"{number(worst.p95_cents)} {worst.string}",
    )


def _fits(cells: list[Cell]) -> str:
    if any(each.fits is None for each in cells):
        return NONE
    return "yes" if all(each.fits for each in cells) else "no"


def notes(study: Study) -> list[str]:
    """Return how the tables are to be read."""
    cell = study.cells[0]
    high = next((each.missed.high for each in study.cells if each.missed.count == 0), None)
    none = "" if high is None else f" None of {cell.readings} windows means at most {percent(high)} %."
    truth = {"first-partial": "first partial", "effective": "effective pitch"}[study.truth]
    return [
        f"Errors are against the {truth} of the resting string, so the glide after a pluck counts. Bias is the median, "
        "spread the standard deviation of what lies within 50 cents; bound is that of Cramer and Rao." + none
    ]
