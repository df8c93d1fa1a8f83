"""The page that is handed over: question, verdict, evidence, assumptions, limits, cautions, how to repeat it."""

from collections.abc import Mapping, Sequence
from typing import Any

from sim.views.tables import Table

CHANCE = "Intervals cover chance in this simulation, not errors of the model."
CAUTION = (
    "A string under tension can break and whip: wear eye protection, keep your face away. "
    "A simulation is no proof of safety."
)
LIMITS = (
    "Strings are perfect in their ends: no sticking in the nut, no coupling between strings through the body.",
    "Motor and gears move slowly enough that inertia does not matter; heat and wear are left out.",
    "The statistical ear draws its errors; the signal ear computes them from a sound whose levels are estimates.",
    "Creep and temperature act only where the rig names them; a new string goes on falling after it was tuned.",
    "A truth outside the range of an estimate is not covered by any interval here.",
    "None of this has been compared with measurements.",
)


def findings(
    summary: Mapping[str, Any], sentences: Sequence[str], tables: Sequence[Table], tasks: Sequence[str], command: str
) -> str:
    """Return the page in Markdown.

    ``tasks`` says of each rig what was asked of it, ``command`` repeats the comparison.
    """
    parts = (
        ("", [f"# Findings: {', '.join(summary['rigs'])}"]),
        ("Question", [_question(summary), *_list(tasks)]),
        ("Verdict", _list([*_verdicts(summary), *sentences])),
        ("Evidence", [*(table.markdown() for table in tables), CHANCE]),
        ("Assumptions", [_assumptions(summary["assumed"])]),
        ("Limits of validity", _list(LIMITS)),
        ("Cautions", [CAUTION]),
        ("Repeat it", ["```", command, "```"]),
    )
    return "\n\n".join("\n".join([*([f"## {title}", ""] if title else []), *lines]) for title, lines in parts) + "\n"


def _question(summary: Mapping[str, Any]) -> str:
    names = ", ".join(dict.fromkeys(entry["name"] for entry in summary["strategies"]))
    return (
        f"Which of {names} brings every string to pitch, how surely, and at what cost? Asked of "
        f"{summary['specimens']} simulated machines, each tuned {summary['tunings']} times, seed {summary['seed']}.\n"
    )


def _verdicts(summary: Mapping[str, Any]) -> list[str]:
    lines = summary["require"]
    verdicts = [f"{line['rig']}, {line['strategy']}: {line['requirement']} {line['verdict']}." for line in lines]
    return verdicts or ["No rig file requires anything ([require]), so nothing could be failed."]


def _assumptions(assumed: Sequence[Mapping[str, str]]) -> str:
    if not assumed:
        return "Every value was given by the rig files."
    rows = tuple((line["key"], line["value"], line["source"]) for line in assumed)
    return Table(f"{len(rows)} values that no rig file gives", ("key", "value", "source"), rows, left=3).markdown()


def _list(lines: Sequence[str]) -> list[str]:
    return [f"- {line}" for line in lines]
