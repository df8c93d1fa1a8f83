"""Components drawn from the ranges that their own fields allow, so that a new part needs no test code."""

import math
from dataclasses import fields
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin, get_type_hints

from hypothesis import assume
from hypothesis import strategies as st
from pydantic import ValidationError
from pydantic.fields import FieldInfo

WIDE = 1e4  # where a field has no upper bound of its own
TINY = 1e-3  # the smallest share of a bound that is drawn beside it


def components(kind: type[Any]) -> st.SearchStrategy[Any]:
    """Return a strategy for instances of a component class, each parameter anywhere in its range."""
    hints = get_type_hints(kind, include_extras=True)
    return st.fixed_dictionaries({field.name: values(hints[field.name]) for field in fields(kind)}).map(
        lambda drawn: built(kind, drawn)
    )


def built(kind: type[Any], drawn: dict[str, Any]) -> Any:
    """Return an instance; values that the class refuses together are drawn again."""
    try:
        return kind(**drawn)
    except ValidationError as error:
        assume(all(fault["loc"] for fault in error.errors()))  # a fault of one field is a fault of the drawing
        raise


def values(hint: Any) -> st.SearchStrategy[Any]:
    """Return a strategy for one annotated parameter."""
    if get_origin(hint) is Literal:
        return st.sampled_from(get_args(hint))
    if get_origin(hint) is Annotated:
        base, *metadata = get_args(hint)
        return numbers(base, bounds(metadata))
    assert hint in (bool, int, float, NoneType), f"no rule to draw {hint!r}"
    return st.booleans() if hint is bool else numbers(hint, {})


def bounds(metadata: list[Any]) -> dict[str, float]:
    """Return gt, ge, lt and le as far as they are given."""
    single = [part for item in metadata for part in (item.metadata if isinstance(item, FieldInfo) else [item])]
    return {name: getattr(part, name) for part in single for name in ("gt", "ge", "lt", "le") if hasattr(part, name)}


def numbers(base: type[Any], limits: dict[str, float]) -> st.SearchStrategy[Any]:
    """Return a strategy for a number, even in magnitude: small values as often as large ones."""
    low = max(limits.get("gt", -math.inf), limits.get("ge", -math.inf))
    high = min(limits.get("lt", WIDE), limits.get("le", WIDE))
    if base is int:
        return st.integers(int(low) + ("gt" in limits), int(high) - ("lt" in limits))
    if low < 0:
        return st.floats(max(low, -WIDE), high, exclude_min="gt" in limits, exclude_max="lt" in limits)
    bottom = low + TINY * (low or min(1.0, high)) if "gt" in limits else max(low, TINY * min(1.0, high))
    top = high * (1.0 - TINY) if "lt" in limits else high
    spread = st.floats(math.log(bottom), math.log(top)).map(lambda x: min(max(math.exp(x), bottom), top))
    return spread if low or "gt" in limits else st.one_of(st.just(0.0), spread)
