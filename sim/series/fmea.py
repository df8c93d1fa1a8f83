"""The fault series as a table for a failure mode and effects analysis, in the wording of IEC 60812."""

import csv
import io
from collections.abc import Iterator
from typing import Any, Final

from models.component import resolve
from models.faults import FAULTS
from sim.series.fault_findings import SOUND, broken_runs

COLUMNS: Final = (
    "item", "failure mode", "failure cause", "local effect", "end effect", "detection", "severity", "scenario",
)  # fmt: skip


def fmea(found: dict[str, Any], rig: str) -> Iterator[str]:
    """Give the lines of a CSV, a row a fault; severity is left for the reviewer."""
    yield _line(COLUMNS)
    for fault in dict.fromkeys(cell["fault"] for cell in found["cells"]):
        if fault != SOUND:
            yield _line(_row(found, fault, rig))


def _row(found: dict[str, Any], fault: str, rig: str) -> tuple[str, ...]:
    kind, broken = resolve(FAULTS, fault), broken_runs(found["cells"])
    runs = sum(cell["runs"] for cell in found["cells"] if (cell["fault"], cell["guards"]) == (fault, "none"))
    alone = [
        one["guard"]
        for one in found["alone"]
        if any(c["stopped_by"] for c in found["cells"] if (c["fault"], c["guards"]) == (fault, one["guard"]))
    ]
    cause, _, rest = (kind.__doc__ or "").partition("Law:")
    law = rest.partition("Fails when:")[0]
    return (
        kind.seam,
        fault,
        " ".join(cause.replace("`", "").split()),
        " ".join(law.replace("`", "").split()),
        f"string breaks in {broken[fault, 'none']} of {runs} runs without a guard, {broken[fault, 'all']} with all",
        ", ".join(alone) or "none alone",
        "",
        f"pegloop faults {rig} --faults {fault} --seed {found['seed']} --rigs {found['specimens']}",
    )


def _line(cells: tuple[str, ...]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue()
