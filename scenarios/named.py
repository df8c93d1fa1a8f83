"""Parts of a rig file in tables of names of their own: faults and guards, each of a kind."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from controllers.guards import GUARDS
from models.component import resolve
from models.faults import FAULTS
from scenarios.errors import Report
from scenarios.lines import Place
from scenarios.schema import GIVEN, Part
from scenarios.strategies import kind_of
from scenarios.table import Table


def faults_of(given: Mapping[str, Any], report: Report, table: Table) -> dict[str, Part]:
    """Return the faults that a rig file names, each with its occasion; a rig without them is sound."""
    return _parts(("faults", FAULTS), given, report, table)


def guards_of(given: Mapping[str, Any], report: Report, table: Table) -> dict[str, Part]:
    """Return the guards that a rig file names; a limit that it leaves out is derived from the rig, string by string."""
    parts = _parts(("guards", GUARDS), given, report, table, ranges=False, partial=True)
    kinds = {name: {"kind": GIVEN + report.where(("guards", name, "kind"))} for name in parts}
    return {name: replace(part, sources=kinds[name] | dict(part.sources)) for name, part in parts.items()}


def _parts(
    section: tuple[str, dict[str, str]], given: Mapping[str, Any], report: Report, table: Table, **how: bool
) -> dict[str, Part]:
    """Return the parts of a section, each of one of its kinds; without those in which something was wrong."""
    title, kinds = section
    found: dict[str, Part | None] = {}
    for name, own in given.items():
        place: Place = (title, name)
        kind = kind_of(own, place, kinds, report)
        if kind is not None:
            values = {key: raw for key, raw in own.items() if key != "kind"}
            places: dict[str, Place] = {key: (*place, key) for key in values}
            found[name] = table.part(f"{title}.{name}", resolve(kinds, kind), values, places, {}, place=place, **how)
    return {name: part for name, part in found.items() if part is not None}
