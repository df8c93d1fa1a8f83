"""``pegloop explain``: a key, outcome, measure or term in two sentences."""

import argparse
from collections.abc import Iterator

from models.units import SUFFIX_UNITS
from sim.cli.kinds import component_bases, named_kinds
from sim.cli.refused import unknown
from sim.cli.screen import Screen
from sim.cli.words import MEASURES, OUTCOMES, SECTIONS, TERMS


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Print what the word means, in every sense that it has."""
    word = " ".join(args.word)
    keys = dict[str, list[str]]()
    for name, text in _keys():
        keys.setdefault(name, []).append(text)
    shelves = {"outcome": OUTCOMES, "measure": MEASURES, "term": TERMS, "rig file": SECTIONS}
    found = [f"{word} ({what}): {shelf[key]}" for what, shelf in shelves.items() for key in shelf if _same(word, key)]
    found += [text for key, texts in keys.items() if _same(word, key) for text in texts]
    if not found:
        raise unknown("word", word, list(dict.fromkeys([*OUTCOMES, *MEASURES, *TERMS, *SECTIONS, *keys])))
    for text in found:
        screen.say(text)
    return 0


def _same(word: str, key: str) -> bool:
    """Return whether a word means a key, spelt in any case, with or without the key's unit."""
    bare = next((key.removesuffix(suffix) for suffix in SUFFIX_UNITS if key.endswith(suffix)), key)
    return _plain(word) in (_plain(key), _plain(bare))


def _plain(text: str) -> str:
    return text.casefold().replace("_", " ").replace("-", " ")


def _keys() -> Iterator[tuple[str, str]]:
    """Give every key of a rig file with its explanation, once for each component that has it."""
    from scenarios.library import parameters

    for section, kind in _components():
        for key in (each for each in parameters(kind) if each.doc):  # what is inherited is described where it is from
            unit = f"in {key.unit}, " if key.unit else ""
            yield key.name, f"{key.name} (key of [{section}], {kind.__name__}; {unit}{key.allowed}): {key.doc}"


def _components() -> Iterator[tuple[str, type]]:
    from models.strings.tension import String
    from scenarios import library
    from scenarios.schema import Wrapping

    seen: set[tuple[str, type]] = {("strings", String)}
    yield "strings", String
    yield "strategies", Wrapping
    yield from dict.fromkeys((section, one) for section, _, kind in named_kinds() for one in component_bases(kind))
    for section, names in library.part_names().items():
        for name in names:
            kind = library.component_class(section, library.part(section, name).kind)
            if (section, kind) not in seen:
                seen.add((section, kind))
                yield section, kind
