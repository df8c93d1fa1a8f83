"""Constants of a strategy as whole numbers: units in their names, 32 bits each."""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any, Final, NamedTuple

from controllers.base import Controller
from scenarios.schema import Scenario, Strategy
from sim.build import build
from sim.isolated import Isolated
from sim.plan import Plan, plan

MOST: Final = 2**31 - 1
"""Largest constant, and the one that stands for no limit."""
WHOLE: Final = {
    "_deg_s_per_cent": ("_microdeg_s_per_cent", 1e6), "_deg_per_cent": ("_microdeg_per_cent", 1e6),
    "_cents_per_deg": ("_microcents_per_deg", 1e6), "_deg_s": ("_millideg_s", 1e3), "_cents": ("_millicents", 1e3),
    "_deg": ("_millideg", 1e3), "_hz": ("_millihz", 1e3), "_s": ("_milliseconds", 1e3),
}  # fmt: skip
"""Suffix of a parameter -> that of its constant, and how many of the constant's units make one; longest first."""
SHARE: Final = ("_millionths", 1e6)
"""The same of a pure number."""


class Constant(NamedTuple):
    """One whole number of firmware."""

    name: str
    value: int
    of: str
    """Law or rule that it belongs to."""


@dataclass(frozen=True, slots=True)
class Constants:
    """What firmware needs for one string, and what is good to know beside it."""

    string: str
    plan: Plan
    """The controller with every number as it is rounded here."""
    layers: tuple[str, ...]
    """Names of the classes: law, then the rules around it, innermost first."""
    numbers: tuple[Constant, ...]
    words: tuple[tuple[str, str], ...]
    """Parameters that are words, and their values."""


def constants_of(scenario: Scenario, strategy: Strategy, string: str) -> Constants:
    """Return the constants of a strategy for one string.

    Raises ``ValueError`` for a number that 32 bits do not hold, and for a controller of a user's own file.
    """
    found = plan(scenario, strategy, string)
    if any(isinstance(layer, Isolated) for layer in _layers(found.controller)):
        raise ValueError("a controller of your own file is not exported; what it keeps is its own business")
    numbers, words = list[Constant](), list[tuple[str, str]]()
    rounded: Any = None
    for layer in reversed(list(_layers(found.controller))):
        changes = {} if rounded is None else {"inner": rounded}
        for name, value in _values(layer):
            if isinstance(value, str):
                words.append((name, value))
                continue
            constant, back = whole(name, value)
            numbers.append(Constant(_prefix(layer, rounded is None) + constant[0], constant[1], type(layer).__name__))
            changes[name] = back
        rounded = replace(layer, **changes)
    layers = tuple(type(layer).__name__ for layer in reversed(list(_layers(rounded))))
    beside = [*_driven(found), *_known(scenario, string)]
    return Constants(string, Plan(rounded, found.driving), layers, (*numbers, *beside), tuple(words))


def whole(name: str, value: float) -> tuple[tuple[str, int], Any]:
    """Return name and value of the constant that stands for a parameter, and the parameter as it is then.

    Raises ``ValueError`` when 32 bits do not hold it.
    """
    if isinstance(value, bool | int):
        return (name, int(value)), value
    suffix = next((known for known in WHOLE if name.endswith(known)), "")
    unit, scale = WHOLE.get(suffix, SHARE)
    if math.isinf(value):
        return (name.removesuffix(suffix) + unit, MOST), value
    number = rounded_half_away(value * scale)
    if abs(number) >= MOST:
        raise ValueError(f"{name} = {value:g} does not fit into 32 bits as {unit.removeprefix('_')}")
    return (name.removesuffix(suffix) + unit, number), number / scale


def rounded_half_away(value: float) -> int:
    """Return the nearest whole number, halves away from zero; what binary lacks of a half is made good for."""
    return int(math.copysign(math.floor(abs(value) + 0.5 + 1e-7), value))


def _layers(controller: Controller) -> Iterator[Any]:
    """Yield a controller and what is inside it, outermost first."""
    inner: Any = controller
    while inner is not None:
        yield inner
        inner = getattr(inner, "inner", None)


def _values(layer: Any) -> list[tuple[str, Any]]:
    return [(field.name, getattr(layer, field.name)) for field in fields(layer) if field.name != "inner"]


def _prefix(layer: Any, is_law: bool) -> str:
    return "" if is_law else re.sub(r"(?<!^)(?=[A-Z])", "_", type(layer).__name__).lower() + "_"


def _driven(found: Plan) -> list[Constant]:
    (dead_time, dead_ms), _ = whole("dead_time_s", found.driving.dead_time_s)
    return [
        Constant(dead_time, dead_ms, "driving"),
        Constant("readings_per_pluck", found.driving.readings_per_pluck, "driving"),
    ]


def _known(scenario: Scenario, string: str) -> list[Constant]:
    """Return target and reserve of the nominal string."""
    built = build(scenario, string).chain.string
    both = (whole("target_hz", built.target_hz)[0], whole("reserve_cents", built.reserve_cents())[0])
    return [Constant(name, value, "string") for name, value in both]
