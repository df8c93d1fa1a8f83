"""The cheapest part of the library that turns what does not fit into what fits."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final, NamedTuple

from scenarios import library
from scenarios.prices import part_price
from scenarios.schema import Part, Range, Scenario
from sim.design.charge import life
from sim.design.checks import BATTERY, CHECKS
from sim.design.facts import facts, middle
from sim.design.levers import BY_STRING
from sim.design.rows import ENOUGH, WHOLE, Row, rows
from sim.design.sheet import lasting_verdict

SECTIONS: Final = ("motor", "supply", "coupler", "head", "player", "unit", "ear")
"""What can be bought anew, beside the instrument."""


class Remedy(NamedTuple):
    """A part that makes a check fit on every string on which it does not, and spoils no other check of theirs."""

    check: str
    strings: tuple[str, ...]
    section: str
    part: str
    eur: float
    """Of the part; heads for all strings."""


def remedies(scenario: Scenario, judged: tuple[Row, ...]) -> dict[str, Remedy | None]:
    """Return the cheapest remedy of each check of ``judged`` rows that does not fit; None where no priced part is one.

    A part without a price is not free: it is left out.
    """
    failing: dict[str, list[str]] = {}
    for row in judged:
        if row.verdict == "does not fit":
            failing.setdefault(row.check, []).append(row.string)
    offers = sorted(_offers(scenario), key=_eur) if failing else []
    return {check: _cheapest(scenario, check, tuple(strings), offers) for check, strings in failing.items()}


class _Offer(NamedTuple):
    section: str
    part: str
    eur: float


def _eur(offer: _Offer) -> float:
    return offer.eur


def _offers(scenario: Scenario) -> Iterator[_Offer]:
    """Give each priced part of the library that has a place in the rig."""
    for section in SECTIONS:
        for name in library.part_names()[section]:
            price = part_price(section, name, len(scenario.strings))
            if price is not None and (section != "head" or _goes_in(scenario, library.part(section, name))):
                yield _Offer(section, name, price.eur)


def _goes_in(scenario: Scenario, head: library.LibraryPart) -> bool:
    """Return whether a head fits into the holes of the one that is there, or, without a post, joins a peg."""
    now = next(iter(scenario.heads.values())).values
    if "post_radius_mm" not in head.values:
        return "taper" in now
    (low, high), (least, most) = _ends(head.values["post_radius_mm"].value), _ends(now.get("post_radius_mm", 0.0))
    return low <= most and least <= high


def _ends(value: Any) -> tuple[float, float]:
    return (value.low, value.high) if isinstance(value, Range) else (float(value), float(value))


def _cheapest(scenario: Scenario, check: str, strings: tuple[str, ...], offers: list[_Offer]) -> Remedy | None:
    touched = tuple(scenario.strings) if strings == (WHOLE,) else strings
    unmet = {string: _unmet(scenario, string) for string in touched}
    for offer in offers:
        other = with_part(scenario, offer.section, offer.part)
        lasts = check != BATTERY or _lasts(other)
        if lasts and all(_helps(other, check, string, unmet[string]) for string in touched):
            return Remedy(check, strings, *offer)
    return None


def with_part(scenario: Scenario, section: str, name: str) -> Scenario:
    """Return the rig with another part of the library, every value as the library has it."""
    found = library.part(section, name)
    values = {key: each.value for key, each in found.values.items()}
    sources = {key: each.source for key, each in found.values.items()}
    part = Part(section, library.component_class(section, found.kind), values, sources)
    field = BY_STRING.get(section, section)
    changed: Mapping[str, Any] = {field: dict.fromkeys(scenario.strings, part) if section in BY_STRING else part}
    return replace(scenario, **changed)


def _helps(other: Scenario, check: str, string: str, unmet: frozenset[str]) -> bool:
    found = facts(other, string, middle)
    if (
        check in CHECKS and CHECKS[check].needs(other, found).margin() < ENOUGH
    ):  # the middle tells before its corners are looked at
        return False
    now = {row.check: row.verdict for row, _ in rows(other, found)}
    return now.get(check, "fits") == "fits" and _failing(now) <= unmet


def _lasts(other: Scenario) -> bool:
    """Return whether a charge gives enough tunings, or the supply does not tire."""
    return life(other, middle) is None or lasting_verdict(other)[1] == "fits"


def _unmet(scenario: Scenario, string: str) -> frozenset[str]:
    return _failing({row.check: row.verdict for row, _ in rows(scenario, facts(scenario, string, middle))})


def _failing(verdicts: Mapping[str, str]) -> frozenset[str]:
    return frozenset(check for check, verdict in verdicts.items() if verdict == "does not fit")
