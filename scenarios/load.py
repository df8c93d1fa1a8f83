"""From a rig file to a ``Scenario``: everything that is wrong with it at once, everything assumed said."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from controllers import CONTROLLERS
from models.head.gear import Head
from models.messages import Task
from models.strings.tension import String
from scenarios import library
from scenarios.errors import Report, RigError, listed, nearest, shown
from scenarios.library import Sourced, ready_rigs
from scenarios.lines import Place
from scenarios.reader import parse, read_text
from scenarios.schema import FORMAT, Assumed, Part, Require, Scenario, Setting
from scenarios.strategies import strategies
from scenarios.string_resolver import RESOLVED, Strings
from scenarios.table import UNKNOWN_STRINGS, Table, by_string, is_name

SECTIONS: Final = (
    "format", "instrument", "strings", "head", "coupler", "motor", "supply", "player", "ear", "task", "strategies",
    "require",
)  # fmt: skip


def load_rig(
    source: str | Path, *, changes: Sequence[str] = (), plugins: Mapping[str, type[Any]] | None = None
) -> Scenario:
    """Return the rig of a file, or a ready rig by its name.

    ``changes`` are ``"KEY=VALUE"`` with a dotted key and a TOML value; ``plugins`` are controller classes by kind.
    Raises ``RigError`` whose ``lines`` name every fault with file, line and key.
    """
    path = Path(source)
    if not path.exists() and str(source) in ready_rigs():
        return load_text(library.ready_rig_text(str(source)), str(source), changes=changes, plugins=plugins)
    if not path.exists() and not path.suffix and len(path.parts) == 1:
        known = listed(ready_rigs())
        raise RigError(
            [f"{source}  is no file and no ready rig; ready rigs: {known}{nearest(str(source), ready_rigs())}"]
        )
    return load_text(read_text(path), str(path), changes=changes, plugins=plugins)


def load_text(
    text: str, file: str, *, changes: Sequence[str] = (), plugins: Mapping[str, type[Any]] | None = None
) -> Scenario:
    """Return the rig that a text describes; ``file`` names it in errors, its stem names the rig. See ``load_rig``."""
    raw, report = parse(text, file, changes)
    changed = "\n".join([text.removesuffix("\n"), *(f"# --set {change}" for change in changes)]) + "\n"
    scenario = _Reader(raw, report, plugins or {}).scenario(Path(file).stem, changed)
    report.raise_if_any()
    assert scenario is not None
    return scenario


class _Reader:
    def __init__(self, raw: dict[str, Any], report: Report, plugins: Mapping[str, type[Any]]) -> None:
        self._raw, self._report, self._plugins = raw, report, plugins
        self._assumed: list[Assumed] = []
        self._table = Table(report, self._assumed)
        self._lost = False  # the instrument's name is wrong: nothing can be said of its strings

    def scenario(self, name: str, text: str) -> Scenario | None:
        self._check_top()
        kind, instrument = self._instrument()
        setting = self._setting(instrument)
        strings = self._strings(instrument, 440.0 if setting is None else setting.nominal().a4_hz)
        heads = self._heads(
            UNKNOWN_STRINGS if self._lost else tuple(strings), None if instrument is None else instrument.head
        )
        parts = {section: self._section(section) for section in ("coupler", "motor", "supply", "player", "ear")}
        task = self._task()
        named = UNKNOWN_STRINGS if self._lost else tuple(strings)
        tried = strategies(self._section_table("strategies"), named, self._report, self._table, self._kinds())
        require = self._require()
        if self._report.found or setting is None or task is None:
            return None
        return Scenario(
            name=name, text=text, instrument=kind, setting=setting, strings=_whole(strings), heads=_whole(heads),
            task=task, strategies=tried, require=require, assumed=tuple(self._assumed), **_whole(parts),
        )  # fmt: skip

    def _kinds(self) -> dict[str, type[Any] | None]:
        """Return controller classes by kind; None for a kind that is imported when a strategy names it."""
        return {**dict.fromkeys(CONTROLLERS), **self._plugins}

    def _check_top(self) -> None:
        for key in self._raw:
            if key not in SECTIONS:
                self._table.unknown(key, (key,), SECTIONS)
        found = self._raw.get("format")
        if found is None:
            self._report.add(("format",), f"missing; write format = {FORMAT} at the top")
        elif found != FORMAT or isinstance(found, bool):
            self._report.add(("format",), f"found {shown(found)}; this version reads format = {FORMAT}")

    def _section_table(self, section: str) -> dict[str, Any]:
        table = self._raw.get(section, {})
        if isinstance(table, dict):
            return table
        self._report.add((section,), f"found {shown(table)}; allowed: a table [{section}]")
        return {}

    def _word(self, table: Mapping[str, Any], place: Place, known: Sequence[str]) -> str | None:
        """Return the word at ``place``, one of ``known``, None (and a fault) otherwise."""
        found = table.get(str(place[-1]))
        if isinstance(found, str) and found in known:
            return found
        self._report.add(place, f"found {shown(found)}; allowed: {listed(known)}{nearest(str(found), known)}")
        return None

    def _instrument(self) -> tuple[str, library.Instrument | None]:
        table = self._section_table("instrument")
        if "part" not in table and self._section_table("strings"):
            return "own", None
        name = library.default("instrument")
        if "part" in table:
            chosen = self._word(table, ("instrument", "part"), library.part_names()["instrument"])
            self._lost = chosen is None
            return (name, None) if chosen is None else (chosen, library.instrument(chosen))
        self._assumed.append(Assumed("instrument.part", name, "the library's default"))
        return name, library.instrument(name)

    def _setting(self, instrument: library.Instrument | None) -> Part | None:
        base = library.instrument(library.default("instrument")) if instrument is None else instrument
        given = {
            key: raw
            for key, raw in self._section_table("instrument").items()
            if key not in ("part", "tuning", "strings")
        }
        places: dict[str, Place] = {key: ("instrument", key) for key in given}
        return self._table.part("instrument", Setting, given, places, base.values, place=("instrument",))

    def _strings(self, instrument: library.Instrument | None, a4_hz: float) -> dict[str, Part | None]:
        if self._lost:
            return {}
        given = self._section_table("strings")
        known = tuple(given) if instrument is None else tuple(instrument.strings)
        for name in given:
            if not is_name(name):
                self._report.add(("strings", name), "is no name; allowed: letters, digits, # _ -, at most 32")
            elif name not in known:
                self._report.add(("strings", name), f"unknown string; allowed: {listed(known)}{nearest(name, known)}")
        targets = self._targets(instrument)
        resolver = Strings(self._report, a4_hz)
        found: dict[str, Part | None] = {}
        for name in self._chosen(known):
            base = {} if instrument is None else dict(instrument.strings.get(name, {}))
            if name in targets:
                base["target"] = targets[name]
            found[name] = self._string(name, given.get(name, {}), base, resolver)
        return found

    def _string(self, name: str, given: Any, base: Mapping[str, Sourced], resolver: Strings) -> Part | None:
        place: Place = ("strings", name)
        if not isinstance(given, dict):
            self._report.add(place, f"found {shown(given)}; allowed: a table [strings.{name}]")
            return None
        values = resolver.complete(given, place, base)
        own = {key: raw for key, raw in given.items() if key not in RESOLVED}
        places: dict[str, Place] = {key: (*place, key) for key in own}
        part = self._table.part(f"strings.{name}", String, own, places, values, place=place)
        if part is not None and part.nominal().length_mm >= part.nominal().total_length_mm:
            self._report.add((*place, "total_length_mm"), "is not above length_mm; it runs from post to anchor")
        return part

    def _targets(self, instrument: library.Instrument | None) -> dict[str, Sourced]:
        if instrument is None:
            return {}
        table = self._section_table("instrument")
        tuning: str | None = "equal"
        if "tuning" in table:
            tuning = self._word(table, ("instrument", "tuning"), tuple(instrument.tunings))
        notes = instrument.tunings.get(tuning or "equal", ())
        return {
            name: Sourced(note, f"{tuning} tuning of {instrument.name}")
            for name, note in zip(instrument.strings, notes, strict=True)
        }

    def _chosen(self, known: Sequence[str]) -> Sequence[str]:
        wanted = self._section_table("instrument").get("strings", list(known))
        if not isinstance(wanted, list) or not wanted:
            self._report.add(("instrument", "strings"), f"found {shown(wanted)}; allowed: a list of {listed(known)}")
            return known
        for number, name in enumerate(wanted):
            if name not in known or name in wanted[:number]:
                what = "named twice" if name in known else f"found {shown(name)}; allowed: {listed(known)}"
                self._report.add(("instrument", "strings", number), f"{what}{nearest(str(name), known)}")
        return [name for name in known if name in wanted] or known

    def _base(self, section: str, table: Mapping[str, Any], default: str | None = None) -> library.LibraryPart:
        name = default or library.default(section)
        if "part" in table:
            name = self._word(table, (section, "part"), library.part_names()[section]) or name
        else:
            self._assumed.append(Assumed(f"{section}.part", name, "the library's default"))
        return library.part(section, name)

    def _section(self, section: str) -> Part | None:
        table = self._section_table(section)
        base = self._base(section, table)
        given = {key: raw for key, raw in table.items() if key != "part"}
        places: dict[str, Place] = {key: (section, key) for key in given}
        kind = library.component_class(section, base.kind)
        return self._table.part(section, kind, given, places, base.values, place=(section,))

    def _heads(self, strings: Sequence[str], default: str | None) -> dict[str, Part | None]:
        table = self._section_table("head")
        base = self._base("head", table, default)
        given = {key: raw for key, raw in table.items() if key not in ("part", "by_string")}
        own = by_string(table, ("head",), strings, self._report)
        found = {}
        for name in strings:
            places: dict[str, Place] = {key: ("head", key) for key in given}
            places |= {key: ("head", "by_string", name, key) for key in own.get(name, {})}
            values = given | own.get(name, {})
            found[name] = self._table.part("head", Head, values, places, base.values, place=("head",))
        self._table.forget_repeats()
        return found

    def _task(self) -> Task | None:
        table = self._section_table("task")
        base = self._base("task", table)
        given = {key: raw for key, raw in table.items() if key != "part"}
        places: dict[str, Place] = {key: ("task", key) for key in given}
        part = self._table.part("task", Task, given, places, base.values, ranges=False, place=("task",))
        return None if part is None else part.nominal()

    def _require(self) -> Require | None:
        if "require" not in self._raw:
            return None
        given = self._section_table("require")
        base = library.part("require", library.default("require")).values
        places: dict[str, Place] = {key: ("require", key) for key in given}
        part = self._table.part("require", Require, given, places, base, ranges=False, place=("require",))
        return None if part is None else part.nominal()


def _whole(parts: Mapping[str, Part | None]) -> dict[str, Any]:
    return {name: part for name, part in parts.items() if part is not None}
