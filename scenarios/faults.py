"""Faults of a rig file: a kind with its occasion and parameters, each in a table of its own name."""

from collections.abc import Mapping
from typing import Any

from models.component import resolve
from models.faults import FAULTS
from scenarios.errors import Report
from scenarios.lines import Place
from scenarios.schema import Part
from scenarios.strategies import kind_of
from scenarios.table import Table


def faults_of(given: Mapping[str, Any], report: Report, table: Table) -> dict[str, Part]:
    """Return the faults that a rig file names; a rig without them is sound."""
    found = {name: _fault(name, values, report, table) for name, values in given.items()}
    return {name: part for name, part in found.items() if part is not None}


def _fault(name: str, given: Any, report: Report, table: Table) -> Part | None:
    place: Place = ("faults", name)
    kind = kind_of(given, place, FAULTS, report)
    if kind is None:
        return None
    values = {key: raw for key, raw in given.items() if key != "kind"}
    places: dict[str, Place] = {key: (*place, key) for key in values}
    return table.part(f"faults.{name}", resolve(FAULTS, kind), values, places, {}, place=place)
