"""What the sections of a rig cost: as its file says, else as the library estimates."""

import math
from collections.abc import Mapping
from typing import Any, Final

from scenarios import library
from scenarios.errors import Report, shown
from scenarios.price import Price
from scenarios.schema import GIVEN

BOUGHT: Final = ("head", "coupler", "motor", "supply", "unit", "player", "ear", "microphone", "front_end")
"""Sections that may say ``price_eur``. The processor is on the unit's board, the converter in the processor."""
KEY: Final = "price_eur"
HEADS: Final = Price(0.0, "comes with the instrument")


def given_prices(raw: Mapping[str, Any], report: Report) -> tuple[dict[str, Price], dict[str, Any]]:
    """Return the prices that a rig gives, by section, and the rig without them; what is no price is reported."""
    prices, rest = {}, dict(raw)
    for section in BOUGHT:
        table, place = raw.get(section), (section, KEY)
        if isinstance(table, dict) and KEY in table:
            rest[section] = {key: value for key, value in table.items() if key != KEY}
            if _is_price(table[KEY]):
                prices[section] = Price(float(table[KEY]), GIVEN + report.where(place))
            else:
                report.add(place, f"found {shown(table[KEY])}; allowed: a number, at least 0")
    return prices, rest


def all_prices(
    raw: Mapping[str, Any], given: Mapping[str, Price], instrument: library.Instrument | None, strings: int
) -> dict[str, Price]:
    """Return the price of each section that has one; ``raw`` names parts that the library has."""
    known = {section: _library_price(section, raw.get(section, {}), instrument, strings) for section in BOUGHT}
    return {section: price for section, price in (known | dict(given)).items() if price is not None}


def part_price(section: str, name: str, strings: int) -> Price | None:
    """Return what a part of the library costs, of heads a set; None where nobody said."""
    price = library.part(section, name).price
    return None if price is None else Price(price.eur * (strings if section == "head" else 1), price.source)


def _library_price(
    section: str, table: Mapping[str, Any], instrument: library.Instrument | None, strings: int
) -> Price | None:
    if section == "head" and table.get("part") in (None, None if instrument is None else instrument.head):
        return HEADS
    return part_price(section, table.get("part") or library.default(section), strings)


def _is_price(found: Any) -> bool:
    return isinstance(found, int | float) and not isinstance(found, bool) and 0 <= found < math.inf
