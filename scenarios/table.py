"""One table of a rig: the user's values over the library's, checked against the component class."""

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import MISSING, fields
from typing import Any, Final

from pydantic import ValidationError

from models.units import unit_of
from scenarios.errors import Report, listed, nearest, shown
from scenarios.library import Parameter, Sourced, parameters
from scenarios.lines import Place
from scenarios.schema import GIVEN, Assumed, Part, Range, Value
from scenarios.slips import hint
from scenarios.values import as_value, read_number, text_of

NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9#_-]{0,31}")
RENAMED: Final = {
    "gear_ratio": "ratio",
    "post_diameter_mm": "post_radius_mm",
    "scale_mm": "length_mm",
    "scale_length_mm": "length_mm",
    "gauge_in": "gauge_mm",
    "unit_weight_kg_m": "unit_weight_g_per_m",
    "backlash": "backlash_deg",
    "slop": "slop_deg",
    "deadband_us": "pulse_deadband_us",
    "speed_deg_s": "speed_ref_deg_s",
    "stall_torque_nm": "stall_torque_ref_nm",
    "voltage": "voltage_v",
    "tolerance": "tolerance_cents",
    "step": "step_deg",
    "gain": "gain_deg_per_cent",
}
"""Names that builders try, and the key that is meant."""


class Table:
    """Reads one table into a ``Part`` and notes what is wrong, and what was assumed."""

    def __init__(self, report: Report, assumed: list[Assumed]) -> None:
        self._report, self._assumed = report, assumed

    def part(
        self,
        path: str,
        kind: type[Any],
        given: Mapping[str, Any],
        places: Mapping[str, Place],
        library: Mapping[str, Sourced],
        *,
        ranges: bool = True,
        partial: bool = False,
        place: Place = (),
    ) -> Part | None:
        """Return the part of ``kind`` from given values over library values; None when something was wrong.

        ``places`` says where each given key stands; ``place`` is the table itself. ``partial``: keys may be missing.
        """
        known = {parameter.name: parameter for parameter in parameters(kind)}
        faults = len(self._report.found)
        good = {key: raw for key, raw in given.items() if self._readable(key, raw, places[key], known, ranges)}
        values: dict[str, Value] = {key: sourced.value for key, sourced in library.items() if key in known}
        values |= {key: as_value(raw) for key, raw in good.items()}
        if not partial:
            self._complete(kind, values, known, given, place)
        self._validate(kind, values, places, known, place)
        if len(self._report.found) > faults:
            return None
        sources = {key: library[key].source for key in values if key not in good and key in library}
        self._assume(path, values, sources)
        return Part(path, kind, values, sources | {key: GIVEN + self._report.where(places[key]) for key in good})

    def forget_repeats(self) -> None:
        """Say each assumption once: tables by string share theirs."""
        self._assumed[:] = dict.fromkeys(self._assumed)

    def unknown(self, key: str, place: Place, known: Iterable[str]) -> None:
        """Note a key that nobody reads."""
        names = list(known)
        if key in RENAMED and RENAMED[key] in names:
            self._report.add(place, f"unknown key; it is called {RENAMED[key]}")
            return
        near = nearest(key, names)
        self._report.add(place, f"unknown key; allowed: {listed(names)}" if not near else f"unknown key{near}")

    def _readable(self, key: str, raw: Any, place: Place, known: Mapping[str, Parameter], ranges: bool) -> bool:
        if key not in known:
            self.unknown(key, place, known)
            return False
        wrong = read_number(raw) if known[key].numeric or isinstance(raw, float) else None
        if wrong is None and isinstance(raw, dict) and not (ranges and known[key].numeric):
            wrong = "found a range; one value is needed here"
        if wrong is None and isinstance(raw, list):
            wrong = "found a list; one value is needed"
        if wrong is not None:
            self._report.add(place, f"{wrong}; allowed: {known[key].allowed}")
        return wrong is None

    def _complete(
        self,
        kind: type[Any],
        values: dict[str, Value],
        known: Mapping[str, Parameter],
        given: Mapping[str, Any],
        place: Place,
    ) -> None:
        defaults = (
            {item.name for item in fields(kind) if item.default is not MISSING}
            if hasattr(kind, "__dataclass_fields__")
            else set()
        )
        for name in known:
            if name not in values and name not in given and name not in defaults:
                self._report.add((*place, name), f"missing; allowed: {known[name].allowed}")

    def _validate(
        self,
        kind: type[Any],
        values: Mapping[str, Value],
        places: Mapping[str, Place],
        known: Mapping[str, Parameter],
        place: Place,
    ) -> None:
        noted = set()
        for numbers in _corners(values):
            for key, found in _faults(kind, numbers):
                if key not in noted and (key in values or key not in known):
                    noted.add(key)
                    allowed = f"; allowed: {known[key].allowed}" if key in known else ""
                    slip = hint(key, values[key]) if key in values else ""
                    allowed += f"; {slip}" if slip else ""
                    self._report.add(places.get(key, (*place, key) if key else place), f"{found}{allowed}")

    def _assume(self, path: str, values: Mapping[str, Value], sources: Mapping[str, str]) -> None:
        for key, source in sources.items():
            self._assumed.append(Assumed(f"{path}.{key}", text_of(values[key], unit_of(key)), source))


UNKNOWN_STRINGS: Final = ("?",)
"""Stands for the strings of an instrument whose name is wrong, so that the rest can still be checked."""


def is_name(name: str) -> bool:
    """Return whether a string or strategy may be called ``name``: letters, digits, # _ -, at most 32."""
    return NAME.fullmatch(name) is not None


def by_string(
    table: Mapping[str, Any], place: Place, strings: Sequence[str], report: Report
) -> dict[str, dict[str, Any]]:
    """Return the overrides by string of a table, without those that are wrong."""
    given = table.get("by_string", {})
    if not isinstance(given, dict):
        report.add((*place, "by_string"), f"found {shown(given)}; allowed: a table for each string")
        return {}
    for name, own in given.items():
        if strings == UNKNOWN_STRINGS:
            continue
        if name not in strings:
            report.add(
                (*place, "by_string", name), f"unknown string; allowed: {listed(strings)}{nearest(name, strings)}"
            )
        elif not isinstance(own, dict):
            report.add((*place, "by_string", name), f"found {shown(own)}; allowed: a table")
    return {name: own for name, own in given.items() if name in strings and isinstance(own, dict)}


def _faults(kind: type[Any], values: Mapping[str, Any]) -> list[tuple[str, str]]:
    validator = getattr(kind, "__pydantic_validator__", None)
    try:
        if validator is None:
            kind(**values)
        else:
            validator.validate_json(json.dumps(values, allow_nan=False))
    except ValidationError as error:
        return [_fault(values, fault["loc"], fault["msg"]) for fault in error.errors()]
    except (TypeError, ValueError) as error:
        return [("", f"{kind.__name__} refuses its parameters: {error}")]
    return []


def _corners(values: Mapping[str, Value]) -> Iterator[dict[str, Any]]:
    """Give what a specimen may draw: all low, all high, and each range alone against the others, both ways."""
    low, high = ({name: pick(value) for name, value in values.items()} for pick in (_low, _high))
    yield low
    yield high
    for name in (name for name, value in values.items() if isinstance(value, Range)):
        yield low | {name: high[name]}
        yield high | {name: low[name]}


def _fault(values: Mapping[str, Any], loc: tuple[int | str, ...], message: str) -> tuple[str, str]:
    """Return a key and what was found there; no key and the component's own sentence where values do not fit."""
    if not loc:
        return "", message.removeprefix("Value error, ")
    return str(loc[0]), f"found {shown(values.get(str(loc[0])))}"


def _low(value: Value) -> Any:
    return value.low if isinstance(value, Range) else value


def _high(value: Value) -> Any:
    return value.high if isinstance(value, Range) else value
