"""Numbers and ranges: from the rig file, and through formulas."""

import math
from collections.abc import Callable
from itertools import product
from typing import Any

from scenarios.schema import Range, Value


def ends(value: Any) -> tuple[float, ...]:
    """Return the ends of a range, or the one value."""
    return (value.low, value.high) if isinstance(value, Range) else (value,)


def middle(value: Any) -> Any:
    """Return the middle of a range, or the value itself."""
    return (value.low + value.high) / 2.0 if isinstance(value, Range) else value


def span(formula: Callable[..., float], *values: Any) -> float | Range:
    """Return what a formula makes of numbers and ranges: one number, or the range over all their ends.

    Exact for formulas that rise or fall in each argument.
    """
    found = [formula(*corner) for corner in product(*(ends(value) for value in values))]
    return found[0] if len(found) == 1 else Range(min(found), max(found))


def joined(low: float | Range, high: float | Range) -> Range:
    """Return the range that covers two values."""
    every = (*ends(low), *ends(high))
    return Range(min(every), max(every))


def read_number(value: Any) -> str | None:
    """Return what is wrong with a raw value where a number or a range may stand; None when nothing is."""
    if isinstance(value, dict):
        return _read_range(value)
    if isinstance(value, str) and _decimal_comma(value):
        return f'found "{value}", a decimal comma in quotes; write {value.replace(",", ".")}'
    if isinstance(value, float) and not math.isfinite(value):
        return f"found {value}; a finite number is needed"
    return None


def _read_range(value: dict[str, Any]) -> str | None:
    if set(value) != {"low", "high"}:
        return f"found a table with {', '.join(value) or 'nothing'}; a range is {{ low = ..., high = ... }}"
    for end in ("low", "high"):
        if isinstance(value[end], bool) or not isinstance(value[end], int | float) or not math.isfinite(value[end]):
            return f"found {end} = {value[end]!r}; both ends of a range are finite numbers"
    if value["low"] > value["high"]:
        return f"found low = {value['low']} above high = {value['high']}; low comes first"
    return None


def as_value(raw: Any) -> Value:
    """Return a raw value that was read without fault as a number, word or ``Range``."""
    if isinstance(raw, dict):
        return Range(float(raw["low"]), float(raw["high"]))
    found: Value = raw
    return found


def text_of(value: Value, unit: str = "") -> str:
    """Return a value as printed: ``3.5 mm``, ``2 to 6 deg``, ``clockwise``."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    number = f"{value.low:.4g} to {value.high:.4g}" if isinstance(value, Range) else _plain(value)
    return f"{number} {unit}".rstrip()


def _plain(value: float | str) -> str:
    return f"{value:.5g}" if isinstance(value, float) else str(value)


def _decimal_comma(text: str) -> bool:
    left, comma, right = text.strip().partition(",")
    return bool(comma) and left.lstrip("+-").isdigit() and right.isdigit()
