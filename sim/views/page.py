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
    "Friction at nut and saddle is dry and even; strings pull on each other through the body in sessions only.",
    "Gears, pegs and strings follow the motor without inertia; heat and wear are left out.",
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
    sections = {
        "Question": [_question(summary), *bullets(tasks)],
        "Verdict": bullets([*_verdicts(summary), *sentences]),
        "Evidence": [*(table.markdown() for table in tables), CHANCE],
    }
    return page(f"Findings: {', '.join(summary['rigs'])}", sections, summary["assumed"], command)


def page(title: str, sections: Mapping[str, Sequence[str]], assumed: Sequence[Mapping[str, str]], command: str) -> str:
    """Return a page in Markdown: its own sections as lines by their headings, then what every page ends with."""
    ends = {
        "Assumptions": [_assumptions(assumed)],
        "Limits of validity": bullets(LIMITS),
        "Cautions": [CAUTION],
        "Repeat it": ["```", command, "```"],
    }
    parts = ["\n".join([f"## {heading}", "", *lines]) for heading, lines in {**sections, **ends}.items()]
    return "\n\n".join([f"# {title}", *parts]) + "\n"


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


def bullets(lines: Sequence[str]) -> list[str]:
    """Return lines as a list in Markdown."""
    return [f"- {line}" for line in lines]
