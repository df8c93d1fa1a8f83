"""Which keys of a rig are numbers, by their dotted names as ``--set`` takes them."""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Any, get_type_hints

from scenarios.schema import Part, Scenario, Strategy

OF_WHOLE = ("task", "require")
"""Sections that are one component without ranges."""


def numeric_keys(scenario: Scenario) -> dict[str, type]:
    """Return every key that is a number, with ``int`` for whole numbers and ``float`` for others.

    Keys of one string stand beside those of all strings: ``head.ratio``, ``head.by_string.E2.ratio``.
    """
    found = dict(_of_parts(scenario))
    for section in OF_WHOLE:
        component = getattr(scenario, section)
        found |= {f"{section}.{key}": kind for key, kind in _numbers(type(component)).items() if component is not None}
    return found


def _of_parts(scenario: Scenario) -> Iterator[tuple[str, type]]:
    for string, part in parts(scenario):
        places = [part.path] if string is None or part.path == f"strings.{string}" else _places(part.path, string)
        yield from ((f"{place}.{key}", kind) for key, kind in _numbers(part.kind).items() for place in places)


def _places(path: str, string: str) -> list[str]:
    return [path, f"{path}.by_string.{string}"]


def parts(scenario: Scenario) -> Iterator[tuple[str | None, Part]]:
    """Give every part, with its string where strings may differ."""
    for field in fields(Scenario):
        yield from _parts_in(getattr(scenario, field.name))


def _parts_in(value: Any) -> Iterator[tuple[str | None, Part]]:
    if isinstance(value, Part):
        yield None, value
    elif isinstance(value, Mapping):
        for name, part in value.items():
            if isinstance(part, Part):
                yield (None if part.path == name else name), part
    elif isinstance(value, tuple):
        for strategy in value:
            if isinstance(strategy, Strategy):
                for of_string in (strategy.controllers, strategy.drivings, strategy.wrappings):
                    yield from _parts_in(of_string)


def _numbers(kind: type[Any]) -> Mapping[str, type]:
    """Return the numeric parameters of a component class."""
    try:
        hints = get_type_hints(kind)
    except (NameError, TypeError):  # a user's own class may say of its parameters what it likes
        hints = {}
    known = {field.name for field in fields(kind)} if hasattr(kind, "__dataclass_fields__") else set()
    return MappingProxyType({key: hints[key] for key in hints if key in known and hints[key] in (int, float)})
