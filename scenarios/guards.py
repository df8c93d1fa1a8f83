"""Guards of a rig file: a kind with those of its limits that the file gives, each in a table of its own name."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from controllers.guards import GUARDS
from models.component import resolve
from scenarios.errors import Report
from scenarios.lines import Place
from scenarios.schema import GIVEN, Part
from scenarios.strategies import kind_of
from scenarios.table import Table


def guards_of(given: Mapping[str, Any], report: Report, table: Table) -> dict[str, Part]:
    """Return the guards that a rig file names; a limit that it leaves out is derived from the rig, string by string."""
    found = {name: _guard(name, values, report, table) for name, values in given.items()}
    return {name: part for name, part in found.items() if part is not None}


def _guard(name: str, given: Any, report: Report, table: Table) -> Part | None:
    place: Place = ("guards", name)
    kind = kind_of(given, place, GUARDS, report)
    if kind is None:
        return None
    values = {key: raw for key, raw in given.items() if key != "kind"}
    places: dict[str, Place] = {key: (*place, key) for key in values}
    cls = resolve(GUARDS, kind)
    part = table.part(f"guards.{name}", cls, values, places, {}, ranges=False, partial=True, place=place)
    return part and replace(part, sources={"kind": GIVEN + report.where((*place, "kind")), **part.sources})
