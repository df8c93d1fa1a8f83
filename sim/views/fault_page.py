"""The page of the fault series for a reviewer: every statement with the cells that it comes from."""

from collections.abc import Mapping, Sequence
from typing import Any

from scenarios.schema import Scenario
from sim.series.fault_findings import broken_runs
from sim.views.faults import ORDER, cautions, guards, matrix, nearest, rules, sentences
from sim.views.page import CHANCE, bullets, page
from sim.views.tables import Table

Found = Mapping[str, Any]
TRACED = (
    "A cell is one entry of `cells` in `summary.json`: a fault, a set of guards, a string, a strategy. What breaks is "
    'counted where `guards` is `"none"`, what is held where it is `"all"`, with one failed where it is '
    '`"all-but:NAME"`, by hardware alone where it is `"hardware"`, what a guard prevents where it is its name; false '
    'trips are `stopped_by` of fault `"none"` with `"all"`.'
)


def fault_page(found: Found, scenario: Scenario, assumed: Sequence[Mapping[str, str]], command: str) -> str:
    """Return the page in Markdown; ``command`` repeats the series."""
    question = (
        f"Which single faults break a string of {found['rig']}, and which guard stops each in time? Asked of "
        f"{found['specimens']} simulated machines a cell, seed {found['seed']}."
    )
    tables = (matrix(found), nearest(found), guards(found), traced(found))
    sections = {
        "Question": [question],
        "Verdict": bullets(sentences(found)),
        "Evidence": [*(table.markdown() for table in tables), TRACED, "", CHANCE],
        "Limits of the guards": bullets(rules(found, scenario)),
        "What remains": [
            *bullets([*(f"{fault}: breaks a string whatever guards it. Severity:" for fault in found["residual"])]),
            *bullets(cautions(scenario)),
            "",
            ORDER,
        ],
    }
    return page(f"What breaks a string of {found['rig']}", sections, assumed, command)


def traced(found: Found) -> Table:
    """Return in how many runs each fault that breaks a string does so, under the sets that the verdict speaks of."""
    broken = broken_runs(found["cells"])
    named = dict.fromkeys(cell["guards"] for cell in found["cells"])
    but = [name for name in named if name.startswith("all-but:")]
    whole = [name for name in ("none", "hardware", "all") if name in named]
    rows = tuple(
        (fault, *(str(broken[fault, name]) for name in whole), _worst({name: broken[fault, name] for name in but}))
        for fault in found["coverage"]["breaking"]
    )
    return Table("Runs in which a string broke", ("fault", *whole, "worst with one failed"), rows)


def _worst(counts: Mapping[str, int]) -> str:
    name = max(counts, key=counts.__getitem__, default=None)
    return "-" if name is None else f"{counts[name]} ({name})" if counts[name] else "0"
