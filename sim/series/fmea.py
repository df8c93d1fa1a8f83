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
    alone = [(one["guard"], _stopped(found, fault, one["guard"])) for one in found["alone"]]
    seen = ", ".join(f"{guard} {count}" for guard, count in alone if count)
    worst = next(one for one in found["worst"] if one["fault"] == fault)
    near = f"{worst['percent_of_breaking']:.1f} % of breaking on {worst['string']}"
    return (
        " and ".join(kind.seam for kind in kinds),
        fault,
        " ".join(causes),
        " ".join(laws),
        f"string breaks in {broken[fault, 'none']} of {runs} runs without a guard, {broken[fault, 'all']} with all; "
        f"at most {near}",
        f"{seen}, each alone, of {runs} runs" if seen else "none alone",
        "",
        f"pegloop faults {rig} --faults {fault} --seed {found['seed']} --rigs {found['specimens']}",
    )


def _stopped(found: dict[str, Any], fault: str, guards: str) -> int:
    """Return in how many runs of a fault a set of guards stops the machine."""
    cells = (cell for cell in found["cells"] if (cell["fault"], cell["guards"]) == (fault, guards))
    return sum(sum(cell["stopped_by"].values()) for cell in cells)


def _told(kind: type) -> tuple[str, str]:
    """Return what a kind of fault is, and its law, in plain words."""
    cause, _, rest = (kind.__doc__ or "").partition("Law:")
    law = rest.partition("Fails when:")[0]
    return " ".join(cause.replace("`", "").split()), " ".join(law.replace("`", "").split())


def _line(cells: tuple[str, ...]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue()
