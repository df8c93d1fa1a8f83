"""One number for all that a scenario holds, to tell whether two series may share a folder."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from hashlib import sha256
from typing import Any

from scenarios.schema import Part, Scenario


def fingerprint(scenario: Scenario) -> str:
    """Return the sha256 of every value of a scenario; where a value came from does not count."""
    return sha256(repr([_plain(getattr(scenario, name)) for name in _COUNTED]).encode()).hexdigest()


_COUNTED = [field.name for field in fields(Scenario) if field.name not in {"name", "text", "assumed"}]


def _plain(value: Any) -> Any:
    if isinstance(value, Part):
        return [value.path, f"{value.kind.__module__}.{value.kind.__qualname__}", _plain(value.values)]
    if isinstance(value, Mapping):
        return [(key, _plain(inner)) for key, inner in value.items()]
    if isinstance(value, tuple):
        return [_plain(inner) for inner in value]
    if is_dataclass(value):
        return [(field.name, _plain(getattr(value, field.name))) for field in fields(value)]
    return value
