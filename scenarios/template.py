"""A rig file to start from: few keys, each with its unit, what it may be and where to find its value."""

import tomllib
from collections.abc import Mapping, Sequence
from random import Random
from textwrap import wrap
from typing import Any, Final

from controllers import CONTROLLERS
from scenarios.library import (
    Parameter,
    Sourced,
    component_class,
    default,
    instrument,
    parameters,
    part,
    part_names,
    ready_rig_text,
)
from scenarios.schema import FORMAT, Range

ASKED: Final = {
    "head": ("post_radius_mm", "backlash_deg"),
    "coupler": ("slop_deg",),
    "motor": ("stall_torque_ref_nm", "speed_limit_deg_s"),
    "ear": (),
    "task": ("tolerance_cents",),
}
"""Keys that a builder should fill in first, by section, where the part has them. Fewer than fifteen with the rest."""

_NAMED: Final = ("head", "motor", "ear")  # sections whose part is a choice to be made
_WIDTH: Final = 98  # characters of a comment line


def new_text(rig: str, seed: int | None = None) -> str:
    """Return a commented rig file of at most fifteen keys, made from the ready rig ``rig``.

    With a ``seed`` each unknown value of the machine is drawn from its range, so that every student of a class gets
    a machine of their own; where the strings start stays a range, for it differs from tuning to tuning.
    Raises ``KeyError`` when there is no ready rig of that name.
    """
    raw = tomllib.loads(ready_rig_text(rig))
    chance = None if seed is None else Random(seed)
    blocks = [_opening(rig, seed), _instrument(raw), *(_section(raw, section, chance) for section in ASKED)]
    return "\n\n".join("\n".join(lines) for lines in [*blocks, _strategy(raw)]) + "\n"


def _opening(rig: str, seed: int | None) -> list[str]:
    drawn = "" if seed is None else f" Unknown values were drawn with seed {seed}."
    about = f"Made from the ready rig {rig}; an invented example until you fill in your own numbers.{drawn}"
    ranges = (
        "A number that you do not know exactly may be a range: { low = 1, high = 2 }. A key that you leave out takes "
    )
    return [*_comment(about), *_comment(f"{ranges}the value of its part."), f"format = {FORMAT}"]


def _instrument(raw: Mapping[str, Any]) -> list[str]:
    given = _instrument_table(raw)
    known = instrument(given["part"])
    lines = ["[instrument]", *_choice("part", given["part"], part_names()["instrument"])]
    if "tuning" in given:
        lines += _choice("tuning", given["tuning"], tuple(known.tunings))
    if "strings" in given:
        listed = ", ".join(f'"{name}"' for name in given["strings"])
        lines += [*_comment(f"Any of: {', '.join(known.strings)}."), f"strings = [{listed}]"]
    return lines + _keys(("start_cents",), component_class("instrument", None), given, known.values, None)


def _section(raw: Mapping[str, Any], section: str, chance: Random | None) -> list[str]:
    given = raw.get(section, {})
    usual = instrument(_instrument_table(raw)["part"]).head if section == "head" else default(section)
    chosen = part(section, given.get("part", usual))
    lines = [f"[{section}]"]
    if section in _NAMED:
        lines += _choice("part", chosen.name, part_names()[section])
    return lines + _keys(ASKED[section], component_class(section, chosen.kind), given, chosen.values, chance)


def _strategy(raw: Mapping[str, Any]) -> list[str]:
    """Return the table of the rig's last strategy: ready rigs end with the one to go on with."""
    name, given = list(raw["strategies"].items())[-1]
    cls = component_class("strategy", given["kind"])
    names = [parameter.name for parameter in parameters(cls)]
    values = part("strategy", given["kind"]).values
    lines = [f"[strategies.{name}]", *_choice("kind", given["kind"], tuple(CONTROLLERS))]
    return lines + _keys(names, cls, given, values, None)


def _instrument_table(raw: Mapping[str, Any]) -> Mapping[str, Any]:
    given: dict[str, Any] = raw.get("instrument", {})
    return {"part": default("instrument")} | given


def _choice(key: str, chosen: str, names: Sequence[str]) -> list[str]:
    return [*_comment(f"One of: {', '.join(names)}."), f'{key} = "{chosen}"']


def _keys(
    keys: Sequence[str], cls: type[Any], given: Mapping[str, Any], library: Mapping[str, Sourced], chance: Random | None
) -> list[str]:
    known = {parameter.name: parameter for parameter in parameters(cls)}
    lines = []
    for key in keys:
        if key in known:
            sourced = Sourced(_read(given[key]), "this example") if key in given else library[key]
            lines += [*_described(known[key], sourced.source), f"{key} = {_written(sourced.value, chance)}"]
    return lines


def _described(parameter: Parameter, source: str) -> list[str]:
    allowed = f"{parameter.unit}, {parameter.allowed}" if parameter.unit else parameter.allowed
    return [*_comment(parameter.doc), *_comment(f"({allowed}; here: {source})")]


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in wrap(text, _WIDTH)]


def _read(raw: Any) -> Any:
    return Range(raw["low"], raw["high"]) if isinstance(raw, dict) else raw


def _written(value: Any, chance: Random | None) -> str:
    if not isinstance(value, Range):
        return f"{value:.10g}"
    if chance is None:
        return f"{{ low = {value.low:g}, high = {value.high:g} }}"
    return f"{chance.uniform(value.low, value.high):.3g}"
