"""A sweep as tables of words: every setting of one key, a map of two, and the answer of every string."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from sim.series.sweep_judge import LIKELY, MISSED, SURE
from sim.series.sweep_words import brief_key, with_unit
from sim.views.numbers import NONE, number, percent, share
from sim.views.tables import Table

Summary = Mapping[str, Any]
SHORT: Final = {
    "specimens meeting": "no: machines", "plucks p95": "no: plucks", "seconds p95": "no: seconds",
    "percent of breaking max": "no: breaking",
}  # fmt: skip
LETTERS: Final = {
    "specimens meeting": "m", "plucks p95": "p", "seconds p95": "s", "percent of breaking max": "b",
}  # fmt: skip
"""What a letter in a map means: the requirement that fails most there."""
MARKS: Final = {SURE: "+", LIKELY: "~"}
KEY: Final = "+ meets; ~ meets as far as counted; fails by m machines, p plucks, s seconds, b breaking"
ABREAST: Final = 8  # values beside each other in 80 columns


def tables(summary: Summary) -> list[Table]:
    """Return all tables of a sweep."""
    shown = _lines if len(summary["axes"]) == 1 else _maps
    return [table for found in summary["answers"] for table in (*shown(summary, found), _strings(summary, found))]


def points_of(summary: Summary, strategy: str) -> list[Mapping[str, Any]]:
    """Return the settings of one strategy, in order."""
    return [point for point in summary["points"] if point["strategy"] == strategy]


def mark(point: Mapping[str, Any]) -> str:
    """Return the sign of a setting: whether it meets, or what stops it."""
    return MARKS.get(point["verdict"]) or LETTERS[point["stopped_by"]]


def _lines(summary: Summary, found: Mapping[str, Any]) -> list[Table]:
    (axis,) = summary["axes"]
    rows = tuple(_line(axis, point) for point in points_of(summary, found["strategy"]))
    title = (
        f"{found['strategy']}, {brief_key(axis['key'])}: {summary['specimens']} machines tuned {summary['tunings']} "
        f"times, {100 * summary['confidence']:.3g} % intervals"
    )
    columns = (
        axis["unit"] or "value", "in tune", "plucks\nmed / p95", "overshoot\np95, cents", "breaking\n%", "required"
    )  # fmt: skip
    return [Table(title, columns, rows, left=0)]


def _line(axis: Summary, point: Mapping[str, Any]) -> tuple[str, ...]:
    plucks = point["plucks"]
    return (
        f"{point['values'][0]:g}",
        share(point["in_tune"]),
        f"{_number(plucks['median'])} / {_number(plucks['p95'])}",
        number(point["overshoot_cents"]["p95"]),
        number(point["percent_of_breaking"]["max"]),
        SHORT[point["stopped_by"]] if point["verdict"] == MISSED else point["verdict"],
    )


def _number(value: float | None) -> str:
    return "limit" if value is None else number(value)


def _maps(summary: Summary, found: Mapping[str, Any]) -> list[Table]:
    """Return in tune in percent over both keys, some columns a table."""
    down, across = summary["axes"]
    points = {tuple(point["values"]): point for point in points_of(summary, found["strategy"])}
    title = f"{found['strategy']}: % in tune over {brief_key(across['key'])}"
    title += f", {across['unit']}. {KEY}" if across["unit"] else f". {KEY}"
    spans = [across["values"][start : start + ABREAST] for start in range(0, len(across["values"]), ABREAST)]
    return [
        Table(
            title,
            (f"{brief_key(down['key'])}\n{down['unit']}", *(f"{value:g}" for value in span)),
            tuple((f"{value:g}", *(_cell(points[value, other]) for other in span)) for value in down["values"]),
            left=0,
        )
        for span in spans
    ]


def _cell(point: Mapping[str, Any]) -> str:
    return f"{percent(round(point['in_tune']['share'], 3))}{mark(point)}"


def _strings(summary: Summary, found: Mapping[str, Any]) -> Table:
    axes = summary["axes"]
    everything = {"all": found["all"], **(found["by_string"] if len(found["by_string"]) > 1 else {})}
    rows = tuple((name, *_answer(axes, one)) for name, one in everything.items())
    columns = ("string", "take", "may be off\nfrom ... to", "below\nfails by", "above\nfails by", "plucks\nmean")
    return Table(f"{found['strategy']}: what to take, and how far it may be off", columns, rows, left=1)


def _answer(axes: Sequence[Summary], one: Mapping[str, Any]) -> tuple[str, ...]:
    if one["recommended"] is None:
        return ("none", NONE, NONE, NONE, NONE)
    offs = one["off"]
    return (
        "\n".join(with_unit(axis, value) for axis, value in zip(axes, one["recommended"], strict=True)),
        "\n".join(f"{off['low']:g} ... {off['high']:g}" for off in offs),
        *("\n".join(_stopped(off[f"stopped_{side}"]) for off in offs) for side in ("below", "above")),
        number(one["plucks"]),
    )


def _stopped(requirement: str | None) -> str:
    return "not tried" if requirement is None else SHORT[requirement].removeprefix("no: ")
