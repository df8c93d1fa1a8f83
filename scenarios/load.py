"""From a rig file to a ``Scenario``: everything that is wrong with it at once, everything assumed said."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple

from controllers import CONTROLLERS
from models.messages import Task
from models.strings.tension import String
from scenarios import library
from scenarios.errors import Report, RigError, listed, nearest, shown
from scenarios.fit import misfit
from scenarios.library import Sourced, ready_rigs
from scenarios.lines import Place
from scenarios.measured import Measured, measured_ears
from scenarios.named import faults_of, guards_of
from scenarios.prices import all_prices, given_prices
from scenarios.reader import parse, read_text
from scenarios.schema import FORMAT, Assumed, Hearing, Part, Require, Scenario, Setting
from scenarios.strategies import strategies
from scenarios.string_resolver import RESOLVED, Strings
from scenarios.table import UNKNOWN_STRINGS, Table, by_string, is_name

HEARING: Final = ("room", "microphone", "front_end", "converter", "processor", "listening", "detector")
"""Sections that only the signal ear needs, beside ``sound``."""
SECTIONS: Final = (
    "format", "instrument", "strings", "head", "nut", "body", "creep", "climate",
    "coupler", "motor", "supply", "unit", "player", "session", "ear", "acceptance", "sound",
    *HEARING, "task", "strategies", "guards", "faults", "require",
)  # fmt: skip
ELSEWHERE: Final = {"session": ("part", "order")}
"""Keys of a section that are no values of its part, where there are others than ``part``."""
Kinds = Mapping[str, type[Any]]
"""A user's own classes by the names that they go by."""


def load_rig(
    source: str | Path, *, changes: Sequence[str] = (), plugins: Kinds | None = None, detectors: Kinds | None = None,
    ear: Hearing = "statistical", session: bool = False,
) -> Scenario:  # fmt: skip
    """Return the rig of a file, or a ready rig by its name.

    ``changes`` are ``"KEY=VALUE"`` with a dotted key and a TOML value; ``plugins`` are controller classes by kind,
    ``detectors`` detector classes by the name of their part; ``ear`` is the one that the loop listens with; with
    ``session`` a run tunes all strings. Raises ``RigError`` whose ``lines`` name every fault with file, line and key.
    """
    path, own = Path(source), _Own(plugins or {}, detectors or {}, ear, session)
    if not path.exists() and str(source) in ready_rigs():
        return _load(library.ready_rig_text(str(source)), str(source), changes, own)
    if not path.exists() and not path.suffix and len(path.parts) == 1:
        known = listed(ready_rigs())
        raise RigError(
            [f"{source}  is no file and no ready rig; ready rigs: {known}{nearest(str(source), ready_rigs())}"]
        )
    return _load(read_text(path), str(path), changes, own)


def load_text(
    text: str, file: str, *, changes: Sequence[str] = (), plugins: Kinds | None = None, detectors: Kinds | None = None,
    ear: Hearing = "statistical", session: bool = False,
) -> Scenario:  # fmt: skip
    """Return the rig that a text describes; ``file`` names it in errors, its stem names the rig. See ``load_rig``."""
    return _load(text, file, changes, _Own(plugins or {}, detectors or {}, ear, session))


class _Own(NamedTuple):
    """What is not in the rig file."""

    controllers: Kinds
    detectors: Kinds
    ear: Hearing
    session: bool

    def options(self) -> list[str]:
        """Return what the command line said of it."""
        return [*(["--ear signal"] if self.ear == "signal" else []), *(["--session"] if self.session else [])]


def _load(text: str, file: str, changes: Sequence[str], own: _Own) -> Scenario:
    raw, report = parse(text, file, changes)
    options = [*(f"--set {change}" for change in changes), *own.options()]
    changed = "\n".join([text.removesuffix("\n"), *(f"# {option}" for option in options)]) + "\n"
    scenario = _Reader(raw, report, own).scenario(Path(file).stem, changed)
    report.raise_if_any()
    assert scenario is not None
    return scenario


class _Reader:
    def __init__(self, raw: dict[str, Any], report: Report, own: _Own) -> None:
        self._given_prices, self._raw = given_prices(raw, report)
        self._report, self._own = report, own
        self._assumed: list[Assumed] = []
        self._table = Table(report, self._assumed)
        self._lost = False  # the instrument's name is wrong: nothing can be said of its strings

    def scenario(self, name: str, text: str) -> Scenario | None:
        self._check_top()
        kind, instrument = self._instrument()
        setting = self._setting(instrument)
        strings = self._strings(instrument, 440.0 if setting is None else setting.nominal().a4_hz)
        named = UNKNOWN_STRINGS if self._lost else tuple(strings)
        usual = {} if instrument is None else {"head": instrument.head, "nut": instrument.nut}
        heads, nuts, creeps, climates = (
            self._each(each, named, self._base(each, usual.get(each))) for each in ("head", "nut", "creep", "climate")
        )
        self._fit(strings, heads, nuts)
        parts = {section: self._section(section) for section in ("coupler", "motor", "supply", "unit", "player")}
        ears = self._ears(named)
        parts["acceptance"] = self._section("acceptance")
        with self._unread(unless=self._own.session):
            parts["body"] = self._section("body", None if instrument is None else instrument.body)
            parts["session"], order = self._section("session"), self._order(named)
        with self._unread(unless=self._own.ear == "signal"):
            hearing = {section: self._section(section) for section in HEARING if self._needed(section)}
            sounds = self._sounds(named, instrument)
        task = self._task()
        tried = strategies(self._section_table("strategies"), named, self._report, self._table, self._kinds())
        guards = guards_of(self._section_table("guards"), self._report, self._table)
        faults = faults_of(self._section_table("faults"), self._report, self._table)
        require = self._require()
        if self._report.found or setting is None or task is None:
            return None
        return Scenario(
            name=name, text=text, instrument=kind, setting=setting, strings=_whole(strings), heads=_whole(heads),
            nuts=_whole(nuts), creeps=_whole(creeps), climates=_whole(climates), ears=_whole(ears),
            hearing=_whole(hearing), sounds=_whole(sounds), ear=self._own.ear, whole=self._own.session,
            order=order, task=task, strategies=tried, guards=guards, faults=faults, require=require,
            prices=all_prices(self._raw, self._given_prices, instrument, len(strings)), assumed=tuple(self._assumed),
            **_whole(parts),
        )  # fmt: skip

    def _kinds(self) -> dict[str, type[Any] | None]:
        """Return controller classes by kind; None for a kind that is imported when a strategy names it."""
        return {**dict.fromkeys(CONTROLLERS), **self._own.controllers}

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
            chosen = self._word(table, ("instrument", "part"), library.names_of("instrument"))
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

    def _base(self, section: str, default: str | None = None) -> library.LibraryPart:
        table, name = self._section_table(section), default or library.default(section)
        if "part" in table:
            name = self._word(table, (section, "part"), library.names_of(section)) or name
        else:
            self._assumed.append(Assumed(f"{section}.part", name, "the library's default"))
        return library.part(section, name)

    def _section(self, section: str, usual: str | None = None) -> Part | None:
        table = self._section_table(section)
        given = {key: raw for key, raw in table.items() if key not in ELSEWHERE.get(section, ("part",))}
        places: dict[str, Place] = {key: (section, key) for key in given}
        own = self._own.detectors.get(str(table.get("part"))) if section == "detector" else None
        if own is not None:
            return self._table.part(section, own, given, places, {}, place=(section,))
        base = self._base(section, usual)
        kind = library.component_class(section, base.kind)
        return self._table.part(section, kind, given, places, base.values, place=(section,))

    def _each(
        self, section: str, strings: Sequence[str], base: library.LibraryPart, measured: Measured | None = None
    ) -> dict[str, Part | None]:
        """Return the part of each string: what the library has, what was measured, and what the file gives."""
        table = self._section_table(section)
        given = {key: raw for key, raw in table.items() if key not in ("part", "by_string", "file")}
        own = by_string(table, (section,), strings, self._report)
        kind = library.component_class(section, base.kind)
        found = {}
        for name in strings:
            places: dict[str, Place] = {key: (section, key) for key in given}
            places |= {key: (section, "by_string", name, key) for key in own.get(name, {})}
            values = {**base.values, **(measured.get(name, {}) if measured else {})}
            found[name] = self._table.part(section, kind, given | own.get(name, {}), places, values, place=(section,))
        self._table.forget_repeats()
        return found

    def _fit(self, *sections: Mapping[str, Part | None]) -> None:
        """Note where strings, heads and nuts do not go together."""
        for name in sections[0]:
            string, head, nut = (section.get(name) for section in sections)
            if string is not None and head is not None and nut is not None and (why := misfit(string, head, nut)):
                self._report.add(("nut", "after_mm"), f"{name}: {why}")

    def _ears(self, strings: Sequence[str]) -> dict[str, Part | None]:
        table = self._section_table("ear")
        measured = None
        if "file" in table:
            measured = measured_ears(Path(self._report.file).parent, table["file"], strings, self._report)
        return self._each("ear", strings, self._base("ear"), measured)

    def _sounds(self, strings: Sequence[str], instrument: library.Instrument | None) -> dict[str, Part | None]:
        if not self._needed("sound"):
            return {}
        return self._each("sound", strings, self._base("sound", None if instrument is None else instrument.sound))

    def _needed(self, section: str) -> bool:
        return self._own.ear == "signal" or section in self._raw

    @contextmanager
    def _unread(self, *, unless: bool) -> Iterator[None]:
        """Leave out what is assumed meanwhile, for it is read by nothing, unless it is."""
        before = len(self._assumed)
        yield
        if not unless:
            del self._assumed[before:]

    def _order(self, strings: Sequence[str]) -> tuple[str, ...]:
        """Return the strings in the order in which a session tunes them."""
        order = self._section_table("session").get("order", list(strings))
        names = list(map(str, order)) if isinstance(order, list) else []
        if sorted(names) != sorted(strings) and not self._lost:
            twice = [f"{name} is named twice" for name in names if names.count(name) > 1]
            what = twice[0] if twice else f"found {shown(order)}"
            self._report.add(("session", "order"), f"{what}; allowed: each of {listed(strings)} once")
        return tuple(names)

    def _task(self) -> Task | None:
        table = self._section_table("task")
        base = self._base("task")
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
