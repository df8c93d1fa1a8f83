"""``pegloop parts``: what the library holds, and one part with every value and where it comes from."""

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

from sim.cli.kinds import about, described, kind_names, named_kinds
from sim.cli.refused import unknown
from sim.cli.screen import Screen
from sim.views.numbers import number
from sim.views.tables import Table

if TYPE_CHECKING:
    from scenarios.library import LibraryPart, Sourced


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """List all parts, or show the named one."""
    from scenarios import library

    names = library.part_names()
    if args.name is None:
        _list(screen)
    elif args.name in library.ready_rigs():
        screen.say(library.ready_rig_text(args.name).rstrip("\n"))
    elif kinds := [(section, kind) for section, name, kind in named_kinds() if name == args.name]:
        for section, kind in kinds:
            for line, indent in described(section, args.name, kind):
                screen.say(line, indent=indent)
    elif found := library.find(args.name):
        for part in found:
            _show(part, screen)
    else:
        raise unknown(
            "part",
            args.name,
            [name for some in names.values() for name in some] + [*library.ready_rigs(), *kind_names()],
        )
    return 0


def _list(screen: Screen) -> None:
    from scenarios import library

    for section, names in library.part_names().items():
        rows = tuple((name, library.part(section, name).about) for name in names)
        screen.table(Table(f"[{section}]", ("part", "what it is"), rows, left=2))
    for section in dict.fromkeys(section for section, _, _ in named_kinds()):
        rows = tuple((name, about(kind)) for place, name, kind in named_kinds() if place == section)
        screen.table(Table(f"[{section}.NAME]", ("kind", "what it is"), rows, left=2))
    screen.say(f"Ready rigs: {', '.join(library.ready_rigs())}")
    screen.talk("One part with all its values: pegloop parts NAME")


def _show(part: "LibraryPart", screen: Screen) -> None:
    screen.say(f"{part.name}, a part for [{part.section}]" + (f", kind {part.kind}" if part.kind else ""), "bold")
    screen.say(part.about)
    if part.source:
        screen.say(f"Source: {part.source}")
    if part.price is not None:
        screen.say(f"Price: {part.price.eur:g} EUR ({part.price.source})")
    for line, indent in _values(part):
        screen.say(line, indent=indent)
    if part.section == "instrument":
        _strings(part.name, screen)


def _values(part: "LibraryPart") -> Iterator[tuple[str, int]]:
    """Give each value with unit, what is allowed, what it means and its source: text and indent."""
    from scenarios import library

    known = {each.name: each for each in library.parameters(library.component_class(part.section, part.kind))}
    for name, sourced in part.values.items():
        parameter = known.get(name)
        unit = f" {parameter.unit}" if parameter and parameter.unit else ""
        yield f"{name} = {worded(sourced)}{unit}" + (f"   ({parameter.allowed})" if parameter else ""), 0
        yield f"{parameter.doc} Source: {sourced.source}" if parameter else f"Source: {sourced.source}", 4


def worded(sourced: "Sourced") -> str:
    """Return a value of the library, a range as ``2.9 to 3.1``."""
    from scenarios.schema import Range

    value = sourced.value
    if isinstance(value, Range):
        return f"{number(value.low, 4)} to {number(value.high, 4)}"
    return number(value, 6) if isinstance(value, float) else str(value)


def _strings(name: str, screen: Screen) -> None:
    from scenarios import library

    instrument = library.instrument(name)
    for tuning, targets in instrument.tunings.items():
        screen.say(f"tuning {tuning}: {', '.join(targets)}")
    for string, values in instrument.strings.items():
        screen.say(f"string {string}", "bold")
        for key, sourced in values.items():
            screen.say(f"{key} = {worded(sourced)}   Source: {sourced.source}", indent=4)
