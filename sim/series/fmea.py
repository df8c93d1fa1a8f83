"""The fault series as a table for a failure mode and effects analysis, in the wording of IEC 60812."""

import csv
import io
from collections.abc import Iterator
from typing import Any, Final

from models.component import resolve
from models.faults import FAULTS
from sim.series.fault_cells import SOUND, together
from sim.series.fault_findings import broken_runs

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
    kinds, broken = [resolve(FAULTS, each) for each in together(fault)], broken_runs(found["cells"])
    causes, laws = zip(*(_told(kind) for kind in kinds), strict=True)
    runs = sum(cell["runs"] for cell in found["cells"] if (cell["fault"], cell["guards"]) == (fault, "none"))
    alone = [
        one["guard"]
        for one in found["alone"]
        if any(c["stopped_by"] for c in found["cells"] if (c["fault"], c["guards"]) == (fault, one["guard"]))
    ]
    return (
        " and ".join(kind.seam for kind in kinds),
        fault,
        " ".join(causes),
        " ".join(laws),
        f"string breaks in {broken[fault, 'none']} of {runs} runs without a guard, {broken[fault, 'all']} with all",
        ", ".join(alone) or "none alone",
        "",
        f"pegloop faults {rig} --faults {fault} --seed {found['seed']} --rigs {found['specimens']}",
    )


def _told(kind: type) -> tuple[str, str]:
    """Return what a kind of fault is, and its law, in plain words."""
    cause, _, rest = (kind.__doc__ or "").partition("Law:")
    law = rest.partition("Fails when:")[0]
    return " ".join(cause.replace("`", "").split()), " ".join(law.replace("`", "").split())


def _line(cells: tuple[str, ...]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue()
