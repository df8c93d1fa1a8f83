"""The library of parts: each value with where it comes from, read from ``scenarios/parts`` and ``scenarios/rigs``.

Cheap to import: names come from TOML alone; pydantic is loaded when a value or a class is asked for.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, is_dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from controllers import CONTROLLERS
from models.detectors import DETECTORS
from models.head import HEADS
from models.hearing import EARS
from models.motors import MOTORS
from models.units import unit_of
from scenarios.price import Price

if TYPE_CHECKING:
    from scenarios.schema import Value

FILES: Final = {
    "instrument": "instruments",
    "material": "materials",
    "head": "heads",
    "coupler": "couplers",
    "motor": "motors",
    "supply": "supplies",
    "sensor": "sensors",
    "unit": "units",
    "player": "players",
    "nut": "nuts",
    "body": "bodies",
    "session": "sessions",
    "creep": "creeps",
    "climate": "climates",
    "ear": "ears",
    "acceptance": "acceptances",
    "sound": "sounds",
    "room": "rooms",
    "microphone": "microphones",
    "front_end": "front-ends",
    "converter": "converters",
    "processor": "processors",
    "listening": "listenings",
    "detector": "detectors",
    "task": "tasks",
    "strategy": "strategies",
    "driving": "drivings",
    "require": "requirements",
}
"""Section -> stem of its file in ``scenarios/parts``."""

SUPPLIES: Final = {"battery": "models.battery:Battery", "bench": "models.supply:Supply"}
SENSORS: Final = {
    "current": "models.sensors:CurrentSensor",
    "encoder": "models.sensors:Encoder",
    "voltage": "models.sensors:VoltageSensor",
}

_KINDS: Final = {
    "head": HEADS,
    "motor": MOTORS,
    "supply": SUPPLIES,
    "sensor": SENSORS,
    "ear": EARS,
    "detector": DETECTORS,
    "strategy": CONTROLLERS,
}
_CLASSES: Final = {
    "instrument": "scenarios.schema:Setting",
    "material": "models.strings.material:Material",
    "coupler": "models.coupler:Coupler",
    "unit": "models.unit_power:UnitPower",
    "player": "models.player:Player",
    "nut": "models.head.nut:Nut",
    "body": "models.body:Body",
    "session": "models.session:Session",
    "creep": "models.strings.creep:Creep",
    "climate": "models.strings.climate:Climate",
    "acceptance": "models.hearing.acceptance:Acceptance",
    "sound": "models.hearing.sound:Sound",
    "room": "models.hearing.room:Room",
    "microphone": "models.hearing.microphone:Microphone",
    "front_end": "models.hearing.front_end:FrontEnd",
    "converter": "models.hearing.converter:Converter",
    "processor": "models.hearing.processor:Processor",
    "listening": "models.hearing.listening:Listening",
    "task": "models.messages:Task",
    "driving": "scenarios.schema:Driving",
    "require": "scenarios.schema:Require",
}

_FORMS: Final = {"boolean": "true or false", "string": "words in quotes", "integer": "a whole number"}
_BOUNDS: Final = {
    "exclusiveMinimum": "above",
    "minimum": "at least",
    "exclusiveMaximum": "below",
    "maximum": "at most",
}


@dataclass(frozen=True, slots=True)
class Sourced:
    """A value and where it comes from."""

    value: "Value"
    source: str
    """A published source, or the word estimate, from memory or common practice."""


@dataclass(frozen=True, slots=True)
class LibraryPart:
    """One part as the library has it."""

    name: str
    section: str
    """Table of the rig file that it belongs to, such as ``"motor"``."""
    about: str
    source: str
    kind: str | None
    """Registered name of its class, where a registry exists."""
    values: Mapping[str, Sourced]
    wire: str | None
    """Of a material drawn to a wire standard: the table that has its strength."""
    price: Price | None = None
    """What one costs; None where nobody said."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument as the library has it, with its strings in order."""

    name: str
    about: str
    source: str
    head: str
    """Name of its usual head."""
    nut: str
    """Name of its usual nut and saddle."""
    body: str
    """Name of how its body usually gives way."""
    sound: str
    """Name of how it usually sounds."""
    values: Mapping[str, Sourced]
    tunings: Mapping[str, tuple[str, ...]]
    """Targets in order of strings, by tuning; every instrument has ``"equal"``."""
    strings: Mapping[str, Mapping[str, Sourced]]


@dataclass(frozen=True, slots=True)
class Wire:
    """A table of wire strength."""

    name: str
    about: str
    source: str
    rows: tuple[tuple[float, float, float], ...]
    """Diameter in mm, rising; lowest and highest tensile strength in MPa."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of a component, in words."""

    name: str
    unit: str
    allowed: str
    """What it may be, such as ``"above 0, at most 20"``."""
    doc: str
    numeric: bool
    """Whether it is a number that may be given as a range."""


_parameters: dict[type[Any], tuple[Parameter, ...]] = {}


@cache
def part_names() -> dict[str, tuple[str, ...]]:
    """Return the names of all parts, by section."""
    return {section: names_of(section) for section in FILES}


@cache
def names_of(section: str) -> tuple[str, ...]:
    """Return the names of a section's parts, reading its file alone. Raises ``KeyError`` for an unknown section."""
    return tuple(_tables(section))


@cache
def default(section: str) -> str:
    """Return the name of the section's default part. Raises ``KeyError`` for a section without one."""
    name: str = _document(FILES[section])["default"]
    return name


@cache
def part(section: str, name: str) -> LibraryPart:
    """Return a part. Raises ``KeyError`` when the section lacks it."""
    table = _tables(section)[name]
    kind = name if section == "strategy" else table.get("kind")
    price = Price(table["price_eur"], table["price_source"]) if "price_eur" in table else None
    return LibraryPart(name, section, table["about"], table["source"], kind, _values(table), table.get("wire"), price)


def find(name: str) -> tuple[LibraryPart, ...]:
    """Return the parts of that name, of all sections."""
    return tuple(part(section, name) for section, names in part_names().items() if name in names)


@cache
def instrument(name: str) -> Instrument:
    """Return an instrument. Raises ``KeyError`` when the library lacks it."""
    table = _tables("instrument")[name]
    tunings = {tuning: tuple(notes) for tuning, notes in table["tunings"].items()}
    strings = {
        string: {key: _sourced(key, raw, table) for key, raw in own.items()} for string, own in table["strings"].items()
    }
    usual = (table["head"], table["nut"], table["body"], table["sound"])
    return Instrument(name, table["about"], table["source"], *usual, _values(table), tunings, strings)


@cache
def wire(name: str) -> Wire:
    """Return a table of wire strength. Raises ``KeyError`` when the library lacks it."""
    table = _document("wires")[name]
    return Wire(name, table["about"], table["source"], tuple((row[0], row[1], row[2]) for row in table["rows"]))


def component_class(section: str, kind: str | None) -> type[Any]:
    """Return the component class of a section, of ``kind`` where a registry exists, importing only its module.

    Raises ``KeyError`` for an unknown section or kind.
    """
    from models.component import resolve

    return resolve(_KINDS[section], kind or "") if section in _KINDS else resolve(_CLASSES, section)


def parameters(cls: type[Any]) -> tuple[Parameter, ...]:
    """Return the parameters of a component, or of any dataclass, in order; none for another class."""
    if cls not in _parameters:
        _parameters[cls] = tuple(_parameter(name, schema) for name, schema in _properties(cls).items())
    return _parameters[cls]


def _properties(cls: type[Any]) -> dict[str, Any]:
    from pydantic import TypeAdapter

    found: dict[str, Any] = TypeAdapter(cls).json_schema().get("properties", {}) if is_dataclass(cls) else {}
    return found


@cache
def ready_rigs() -> tuple[str, ...]:
    """Return the names of the ready rigs, sorted."""
    found = (entry.name for entry in files("scenarios").joinpath("rigs").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in found if name.endswith(".toml")))


@cache
def ready_rig_text(name: str) -> str:
    """Return the text of a ready rig. Raises ``KeyError`` when there is none of that name."""
    if name not in ready_rigs():
        raise KeyError(name)
    return files("scenarios").joinpath("rigs", f"{name}.toml").read_text("utf-8")


@cache
def usual_strategies() -> dict[str, dict[str, Any]]:
    """Return the strategies of a rig that names none: those of the ready rig ``default``, as in a rig file."""
    found: dict[str, dict[str, Any]] = tomllib.loads(ready_rig_text("default"))["strategies"]
    return found


@cache
def _document(stem: str) -> dict[str, Any]:
    return tomllib.loads(files("scenarios").joinpath("parts", f"{stem}.toml").read_text("utf-8"))


def _tables(section: str) -> dict[str, dict[str, Any]]:
    return {name: table for name, table in _document(FILES[section]).items() if isinstance(table, dict)}


def _values(table: Mapping[str, Any]) -> dict[str, Sourced]:
    return {key: _sourced(key, raw, table) for key, raw in table["values"].items()}


def _sourced(key: str, raw: Any, table: Mapping[str, Any]) -> Sourced:
    """Return a value with its own source, else the one that its part names for the key, else the part's."""
    from scenarios.schema import Range

    source = table.get("sources", {}).get(key, table["source"])
    if not isinstance(raw, dict):
        return Sourced(raw, source)
    value = raw["value"] if "value" in raw else Range(raw["low"], raw["high"])
    return Sourced(value, raw.get("source", source))


def _parameter(name: str, schema: Mapping[str, Any]) -> Parameter:
    numeric = schema.get("type") == "number"
    return Parameter(name, unit_of(name), _allowed(schema), schema.get("description", ""), numeric)


def _allowed(schema: Mapping[str, Any]) -> str:
    if "enum" in schema:
        *first, last = map(str, schema["enum"])
        return f"{', '.join(first)} or {last}"
    said = [_FORMS.get(schema.get("type", ""), "")]
    said += [f"{word} {schema[bound]:.10g}" for bound, word in _BOUNDS.items() if bound in schema]
    return ", ".join(filter(None, said)) or "any number"
