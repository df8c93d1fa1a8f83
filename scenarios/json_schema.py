"""The JSON Schema of rig files, for editors that complete and check while one types."""

from collections.abc import Mapping
from typing import Any

from pydantic import TypeAdapter

from controllers import CONTROLLERS
from controllers.guards import GUARDS
from models.component import resolve
from models.faults import FAULTS
from models.strings.tension import String
from models.units import unit_of
from scenarios import library
from scenarios.load import HEARING
from scenarios.prices import BOUGHT, KEY
from scenarios.schema import FORMAT, Driving, Require, Setting, Wrapping
from scenarios.string_resolver import RESOLVED

RANGE = {
    "type": "object",
    "properties": {"low": {"type": "number"}, "high": {"type": "number"}},
    "required": ["low", "high"],
    "additionalProperties": False,
}

NAMES = {"type": "array", "items": {"type": "string"}, "minItems": 1, "uniqueItems": True}


def rig_schema() -> dict[str, Any]:
    """Return the schema, made from the components: a number is a number or a range, each with its unit."""
    parts = {
        section: _part(section)
        for section in ("coupler", "motor", "supply", "unit", "player", "body", "acceptance", *HEARING)
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "pegloop rig file",
        "type": "object",
        "additionalProperties": False,
        "required": ["format"],
        "properties": {
            "format": {"const": FORMAT},
            "instrument": _instrument(),
            "strings": {"type": "object", "additionalProperties": _table(_string(), {})},
            "head": _part("head", _by_string()),
            **{section: _part(section, _by_string()) for section in ("nut", "creep", "climate")},
            "ear": _part("ear", _by_string() | {"file": {"type": "string"}}),
            "sound": _part("sound", _by_string()),
            "session": _part("session", {"order": NAMES}),
            **parts,
            "task": _table(_properties(library.component_class("task", None)), _chosen("task")),
            "strategies": {"type": "object", "additionalProperties": _strategy()},
            "guards": {"type": "object", "additionalProperties": _named(GUARDS)},
            "faults": {"type": "object", "additionalProperties": _named(FAULTS, ranges=True)},
            "require": _table(_properties(Require), {}),
        },
    }


def _table(properties: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "additionalProperties": False, "properties": more | properties}


def _chosen(section: str) -> dict[str, Any]:
    return {"part": {"enum": list(library.part_names()[section])}}


def _by_string() -> dict[str, Any]:
    return {"by_string": {"type": "object", "additionalProperties": {"type": "object"}}}


def _instrument() -> dict[str, Any]:
    more = _chosen("instrument") | {"tuning": {"type": "string"}, "strings": NAMES}
    return _table(_properties(Setting, ranges=True), more)


def _string() -> dict[str, Any]:
    names = list(library.part_names()["material"])
    return {key: {"enum": names} for key in RESOLVED} | _properties(String, ranges=True)


def _part(section: str, more: Mapping[str, Any] | None = None) -> dict[str, Any]:
    kinds = {library.part(section, name).kind for name in library.part_names()[section]}
    merged: dict[str, Any] = {}
    for kind in sorted(kinds, key=str):
        merged |= _properties(library.component_class(section, kind), ranges=True)
    price = {KEY: {"type": "number", "minimum": 0, "description": "What it costs, in euros."}}
    return _table(merged, {**_chosen(section), **(price if section in BOUGHT else {}), **(more or {})})


def _strategy() -> dict[str, Any]:
    merged = _properties(Wrapping) | _properties(Driving)
    for kind in CONTROLLERS:
        merged |= _properties(resolve(CONTROLLERS, kind))
    more = {"kind": {"type": "string"}} | _by_string()
    return {"type": "object", "required": ["kind"], "properties": more | merged}


def _named(kinds: dict[str, str], *, ranges: bool = False) -> dict[str, Any]:
    """Return a table of one kind out of a registry, with the keys of them all."""
    merged: dict[str, Any] = {}
    for kind in kinds:
        merged |= _properties(resolve(kinds, kind), ranges=ranges)
    return {"type": "object", "required": ["kind"], "properties": {"kind": {"enum": list(kinds)}} | merged}


def _properties(cls: type[Any], *, ranges: bool = False) -> dict[str, Any]:
    raw = TypeAdapter(cls).json_schema()["properties"]
    return {key: _property(key, schema, ranges) for key, schema in raw.items()}


def _property(key: str, schema: dict[str, Any], ranges: bool) -> dict[str, Any]:
    kept = {name: value for name, value in schema.items() if name not in ("title", "description")}
    shape = {"anyOf": [kept, RANGE]} if ranges and kept.get("type") == "number" else kept
    unit = {"unit": unit_of(key)} if unit_of(key) else {}
    return {"description": schema.get("description", ""), **unit, **shape}
