"""A tiny language of comparisons, such as ``in_tune<0.95`` or ``fine:plucks.p95>20``, to fail a command on."""

import math
import operator
import re
from typing import Any

OPERATORS = {
    "<=": operator.le, ">=": operator.ge, "==": operator.eq, "<": operator.lt, ">": operator.gt,
}  # fmt: skip
_SHARE, _QUANTILES = ("share", "count", "of", "low", "high"), ("median", "p95")
MEASURES: dict[str, tuple[str, ...]] = {
    "in_tune": _SHARE,
    "specimens_meeting": _SHARE,
    "whole_instrument": _SHARE,
    "finished_not_in_tune": (),
    "plucks": _QUANTILES,
    "seconds": _QUANTILES,
    "overshoot_cents": _QUANTILES,
    "final_error_cents": _QUANTILES,
    "percent_of_breaking": ("max", *_QUANTILES),
    "broken": ("count", "of", "high"),
}
"""What can be asked for, and its parts; the first part is meant where none is given."""

_FORM = re.compile(r"\s*(?:(?P<name>[^:]+):)?\s*(?P<path>[a-z_0-9.]+)\s*(?P<sign><=|>=|==|<|>)\s*(?P<number>\S+)\s*")


def holds(expression: str, summary: dict[str, Any]) -> bool:
    """Tell whether any strategy of a summary satisfies ``[NAME:]MEASURE[.PART] SIGN NUMBER``.

    A value beyond its limit counts as infinite. Raises ``ValueError`` (one line, with what is allowed) for anything
    that is no such comparison and for an unknown name.
    """
    name, path, sign, number = _parsed(expression)
    names = list(dict.fromkeys(entry["name"] for entry in summary["strategies"]))
    if name is not None and name not in names:
        raise ValueError(f"{expression}: no strategy is named {name}; known: {', '.join(names)}")
    entries = [entry for entry in summary["strategies"] if name in (None, entry["name"])]
    return any(OPERATORS[sign](_value(entry, path), number) for entry in entries)


def _parsed(expression: str) -> tuple[str | None, list[str], str, float]:
    form = _FORM.fullmatch(expression)
    if form is None:
        raise ValueError(f"{expression}: wanted [NAME:]MEASURE[.PART] and one of < <= > >= == and a number")
    try:
        number = float(form["number"])
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(f"{expression}: {form['number']} is no number")
    return form["name"], _path(expression, form["path"]), form["sign"], number


def _path(expression: str, text: str) -> list[str]:
    measure, _, part = text.partition(".")
    if measure not in MEASURES:
        raise ValueError(f"{expression}: no measure is named {measure}; known: {', '.join(MEASURES)}")
    parts = MEASURES[measure]
    if part and part not in parts:
        raise ValueError(f"{expression}: {measure} has no part {part}; known: {', '.join(parts) or 'none'}")
    return [measure, part or parts[0]] if parts else [measure]


def _value(entry: dict[str, Any], path: list[str]) -> float:
    value: Any = entry
    for key in path:
        value = value[key]
    return math.inf if value is None else float(value)
