"""Strategies of a rig file: a kind of controller with its parameters and its driving, flat in one table."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import fields
from typing import Any, Final

from controllers import CONTROLLERS
from models.component import resolve
from scenarios import library
from scenarios.errors import Report, listed, nearest, shown
from scenarios.library import Sourced
from scenarios.lines import Place
from scenarios.schema import Driving, Part, Strategy, Wrapping
from scenarios.table import Table, by_string, is_name

DRIVING_KEYS: Final = {item.name for item in fields(Driving)}
WRAPPING_KEYS: Final = {item.name for item in fields(Wrapping)}
PLUGIN_DRIVING: Final = "bang-bang"  # a user's controller is driven like this kind unless its table says otherwise


def strategies(
    given: Mapping[str, Any],
    strings: Sequence[str],
    report: Report,
    table: Table,
    kinds: Mapping[str, type[Any] | None],
) -> tuple[Strategy, ...]:
    """Return the strategies of a rig; those of the library when the rig file names none."""
    reader = _Strategies(strings, report, table, kinds)
    chosen = dict(given) or {name: dict(values) for name, values in library.usual_strategies().items()}
    found = [reader.read(name, own) for name, own in chosen.items()]
    return tuple(strategy for strategy in found if strategy is not None)


def kind_of(given: Any, place: Place, kinds: Collection[str], report: Report) -> str | None:
    """Return the kind that a named table says it is of, one of ``kinds``; None (and a fault) otherwise."""
    section, name = place
    if not isinstance(given, dict):
        report.add(place, f"found {shown(given)}; allowed: a table [{section}.{name}]")
        return None
    if not is_name(str(name)):
        report.add(place, "is no name; allowed: letters, digits, # _ -, at most 32")
    kind = given.get("kind")
    if isinstance(kind, str) and kind in kinds:
        return kind
    found = "missing" if kind is None else f"found {shown(kind)}"
    report.add((*place, "kind"), f"{found}; allowed: {listed(kinds)}{nearest(str(kind), kinds)}")
    return None


class _Strategies:
    def __init__(
        self, strings: Sequence[str], report: Report, table: Table, kinds: Mapping[str, type[Any] | None]
    ) -> None:
        self._strings, self._report, self._table, self._kinds = strings, report, table, kinds

    def read(self, name: str, given: Any) -> Strategy | None:
        place: Place = ("strategies", name)
        kind = kind_of(given, place, self._kinds, self._report)
        if kind is None:
            return None
        return self._of_kind(name, kind, given, place)

    def _of_kind(self, name: str, kind: str, given: Mapping[str, Any], place: Place) -> Strategy | None:
        cls = self._kinds[kind] or resolve(CONTROLLERS, kind)
        flat = {key: raw for key, raw in given.items() if key not in ("kind", "by_string")}
        own = by_string(given, place, self._strings, self._report)
        found: dict[str, tuple[Part, Part, Part]] = {}
        for string in self._strings:
            values = flat | own.get(string, {})
            places: dict[str, Place] = {key: (*place, key) for key in flat}
            places |= {key: (*place, "by_string", string, key) for key in own.get(string, {})}
            parts = self._parts(f"strategies.{name}", cls, kind, values, places, place)
            if parts is not None:
                found[string] = parts
        self._table.forget_repeats()
        if len(found) < len(self._strings):
            return None
        controllers, drivings, wrappings = ({string: each[at] for string, each in found.items()} for at in range(3))
        return Strategy(name, kind, controllers, drivings, wrappings)

    def _parts(
        self,
        path: str,
        cls: type[Any],
        kind: str,
        values: Mapping[str, Any],
        places: Mapping[str, Place],
        place: Place,
    ) -> tuple[Part, Part, Part] | None:
        """Return law, driving and wrapping; a key that the law has too is the law's."""
        law_keys = {parameter.name for parameter in library.parameters(cls)}
        known = law_keys | DRIVING_KEYS | WRAPPING_KEYS
        for key in values:
            if key not in known:
                self._table.unknown(key, places[key], sorted(known))
        if set(values) - known:
            return None

        def part(component: type[Any], keys: set[str], base: Mapping[str, Sourced]) -> Part | None:
            own = {key: raw for key, raw in values.items() if key in keys}
            return self._table.part(path, component, own, places, base, ranges=False, place=place)

        controller = part(cls, law_keys, _library("strategy", kind))
        driven_like = kind if kind in CONTROLLERS else PLUGIN_DRIVING
        driving = part(Driving, DRIVING_KEYS - law_keys, _library("driving", driven_like))
        wrapping = part(Wrapping, WRAPPING_KEYS - law_keys, {})
        if controller is None or driving is None or wrapping is None:
            return None
        return controller, driving, wrapping


def _library(section: str, kind: str) -> Mapping[str, Sourced]:
    names = library.names_of(section)
    return library.part(section, kind).values if kind in names else {}
