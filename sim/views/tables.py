"""A comparison as tables of words, ready for a terminal of 80 columns or for a page."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sim.views.numbers import NONE, broken, number, percent, share, within

Summary = Mapping[str, Any]
Limits = Mapping[str, tuple[float, float]]
"""By rig: the most plucks and the most seconds of a run."""
Hertz = Mapping[str, float]
"""By string: the frequency of its target."""
SHORT = {
    "in_tune": "in tune", "overshoot_cents": "overshoot, cents", "final_error_cents": "error, cents",
    "percent_of_breaking": "% of breaking",
}  # fmt: skip
ABREAST = 3  # strategies beside each other in 80 columns


@dataclass(frozen=True, slots=True)
class Table:
    """A title, a header and rows of words; the first ``left`` columns stand at the left."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    left: int = 1

    def markdown(self) -> str:
        """Return the table in Markdown."""
        rules = tuple("---" if place < self.left else "---:" for place in range(len(self.columns)))
        return "\n".join([f"**{self.title}**", "", *(_line(cells) for cells in (self.columns, rules, *self.rows)), ""])


def _line(cells: tuple[str, ...]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def of_comparison(summary: Summary, limits: Limits, hertz: Hertz, a4_hz: float | None) -> list[Table]:
    """Return all tables of a comparison; those with nothing to say are left out."""
    tables = [
        outcome(summary), sessions(summary), effort(summary, limits), risks(summary), *by_string(summary, hertz, a4_hz),
        differences(summary), requirements(summary),
    ]  # fmt: skip
    return [table for table in tables if table.rows]


def label(entry: Mapping[str, Any], summary: Summary) -> str:
    """Return a strategy's name, with its rig before it where there are several rigs."""
    name: str = entry.get("name") or entry["strategy"]
    return f"{entry['rig']}: {name}" if len(summary["rigs"]) > 1 else name


def outcome(summary: Summary) -> Table:
    """Return how many runs, machines and instruments come out in tune, with 95 % intervals."""
    rows = tuple(
        (label(entry, summary), *(share(entry[name]) for name in ("in_tune", "specimens_meeting", "whole_instrument")))
        for entry in summary["strategies"]
    )
    title = f"In tune, with 95 % intervals over {summary['specimens']} machines tuned {summary['tunings']} times"
    return Table(title, ("strategy", "tunings", "machines\nthat meet", "whole\ninstrument"), rows)


def effort(summary: Summary, limits: Limits) -> Table:
    """Return plucks, seconds, overshoot and final error; beyond the limit reads ``>60``."""
    rows = tuple(
        (
            label(entry, summary),
            _both(entry["plucks"], limits[entry["rig"]][0]),
            _both(entry["seconds"], limits[entry["rig"]][1]),
            number(entry["overshoot_cents"]["p95"]),
            _both(entry["final_error_cents"], float("inf")),
        )
        for entry in summary["strategies"]
    )
    columns = ("strategy", "plucks", "seconds", "overshoot\np95, cents", "final error\ncents")
    return Table("Effort: median / 95th percentile; not finished = beyond the limit", columns, rows)


def sessions(summary: Summary) -> Table:
    """Return passes, plucks and seconds of whole sessions; no rows where strings were tuned by themselves."""
    rows = tuple(
        (
            label(entry, summary),
            *(_both(entry["session"][name], float("inf")) for name in ("passes", "plucks", "seconds")),
        )
        for entry in summary["strategies"]
        if "session" in entry
    )
    title = "Whole sessions, carrying included: median / 95th percentile; - = a string not finished"
    return Table(title, ("strategy", "passes", "plucks", "seconds"), rows)


def risks(summary: Summary) -> Table:
    """Return what goes wrong: false beliefs, tension, breaking."""
    rows = tuple(
        (
            label(entry, summary),
            f"{entry['finished_not_in_tune']} of {entry['runs']}",
            number(entry["percent_of_breaking"]["max"]),
            broken(entry["broken"]),
        )
        for entry in summary["strategies"]
    )
    return Table("Risks", ("strategy", "finished but\nnot in tune", "% of breaking\nat most", "broken"), rows)


def by_string(summary: Summary, hertz: Hertz, a4_hz: float | None) -> list[Table]:
    """Return the share in tune of every string and strategy, a few strategies a table."""
    entries = summary["strategies"]
    reference = f"; targets at A4 = {number(a4_hz, 4)} Hz" if a4_hz else ""
    return [
        _strings(entries[start : start + ABREAST], summary, hertz, f"In tune by string{reference}")
        for start in range(0, len(entries), ABREAST)
    ]


def _strings(entries: Any, summary: Summary, hertz: Hertz, title: str) -> Table:
    strings = dict.fromkeys(string for entry in entries for string in entry["by_string"])
    rows = tuple((string, _hertz(hertz.get(string)), *(_of(entry, string) for entry in entries)) for string in strings)
    return Table(title, ("string", "Hz", *(label(entry, summary).replace(": ", ":\n") for entry in entries)), rows)


def _hertz(value: float | None) -> str:
    return NONE if value is None else f"{value:.2f}"


def _of(entry: Mapping[str, Any], string: str) -> str:
    found = entry["by_string"].get(string)
    return NONE if found is None else share(found["in_tune"])


def differences(summary: Summary) -> Table:
    """Return the differences against the first-named strategy, with intervals and p-values after Holm."""
    rows = tuple(
        (
            label(line, summary),
            SHORT.get(line["measure"], line["measure"]),
            _difference(line),
            f"{line['better']}/{line['equal']}/{line['worse']}",
            _p_value(line["p_holm"]),
        )
        for line in summary["differences"]
    )
    first = summary["differences"][0] if rows else {}
    against = label({"rig": first["against_rig"], "name": first["against"]}, summary) if first else ""
    columns = ("strategy", "measure", "mean difference\n(95 % interval)", "better/\nequal/worse", "Holm's\np")
    return Table(f"Differences against {against}, run by run on the same draws", columns, rows, left=2)


def _difference(line: Mapping[str, Any]) -> str:
    scale = 100.0 if line["measure"] == "in_tune" else 1.0
    mean, low, high = (None if line[key] is None else scale * line[key] for key in ("mean", "low", "high"))
    unit = " %" if scale > 1.0 else ""
    return _change(mean) + unit + ("" if low is None else f" ({_change(low)} to {_change(high)})")


def _p_value(value: float | None) -> str:
    return NONE if value is None else "<.001" if value < 0.001 else f"{value:.3f}"


def _change(value: float | None) -> str:
    return f"+{number(value)}" if value is not None and value > 0.0 else number(value)


def requirements(summary: Summary) -> Table:
    """Return the verdict on each requirement of the rig files."""
    rows = tuple(
        (
            label(line, summary), line["requirement"], _amount(line, "wanted"), _amount(line, "found"),
            line["verdict"] + (f" (needs {line['specimens_needed']} machines)" if line["specimens_needed"] else ""),
        )
        for line in summary["require"]
    )  # fmt: skip
    return Table("Required by the rig file", ("strategy", "requirement", "wanted", "found", "verdict"), rows, left=2)


def _amount(line: Mapping[str, Any], key: str) -> str:
    value = line[key]
    if value is None:
        return "beyond limit"
    return f"{percent(value)} %" if line["requirement"].endswith("share") else number(value)


def _both(found: Mapping[str, Any], limit: float) -> str:
    return f"{within(found['median'], limit)} / {within(found['p95'], limit)}".replace(">-", "none")
