"""What a sweep found, in sentences that a builder can act on."""

from collections.abc import Mapping, Sequence
from typing import Any

from sim.series.sweep_judge import SURE, WORDS

Summary = Mapping[str, Any]
Answer = Mapping[str, Any]
SURELY = {True: "meets what is required", False: "meets what is required as far as counted, not yet for sure"}


def sentences(summary: Summary) -> list[str]:
    """Return the findings of every strategy: for the instrument, then string by string."""
    return [sentence for found in summary["answers"] for sentence in _of_strategy(found, summary["axes"])]


def headline(found: Mapping[str, Any], axes: Sequence[Summary]) -> str:
    """Return the answer of one strategy for the whole instrument."""
    answer, name = found["all"], found["strategy"]
    if answer["recommended"] is None:
        nearest = setting(axes, answer["nearest"])
        return f"{name}: no value tried meets what is required; nearest is {nearest}, stopped by {_stop(answer)}"
    return f"{name}: take {setting(axes, answer['recommended'])}; it {SURELY[answer['verdict'] == SURE]}"


def setting(axes: Sequence[Summary], values: Sequence[float]) -> str:
    """Return values in words: ``step_deg = 4 deg and deadband_cents = 2 cents``."""
    pairs = zip(axes, values, strict=True)
    return " and ".join(f"{brief_key(axis['key'])} = {with_unit(axis, value)}" for axis, value in pairs)


def with_unit(axis: Summary, value: float) -> str:
    """Return a value of an axis with its unit."""
    return f"{value:g} {axis['unit']}".rstrip()


def brief_key(key: str) -> str:
    """Return the last part of a key."""
    return key.rpartition(".")[2]


def _stop(answer: Answer) -> str:
    return WORDS[answer["stopped_by"]]


def _of_strategy(found: Mapping[str, Any], axes: Sequence[Summary]) -> list[str]:
    said = [f"{headline(found, axes)}."]
    if found["all"]["recommended"] is not None:
        said.append(f"It takes {found['all']['plucks']:.1f} plucks in the mean. {how_far(found['all'], axes)}")
    return [*said, *_by_string(found, axes)]


def how_far(answer: Answer, axes: Sequence[Summary]) -> str:
    """Return how far each key may be off before a requirement fails."""
    return " ".join(_margin(off, axis) for off, axis in zip(answer["off"], axes, strict=True))


def _margin(off: Mapping[str, Any], axis: Summary) -> str:
    below, above = (_edge(off, axis, side) for side in ("below", "above"))
    span = f"{off['low']:g} to {with_unit(axis, off['high'])}"
    return f"{brief_key(off['key'])} may lie anywhere from {span}: {below}, {above}."


def _edge(off: Mapping[str, Any], axis: Summary, side: str) -> str:
    value = off[f"fails_{side}"]
    if value is None:
        return f"nothing {side} was tried"
    return f"{with_unit(axis, value)} means {WORDS[off[f'stopped_{side}']]}"


def _by_string(found: Mapping[str, Any], axes: Sequence[Summary]) -> list[str]:
    """Return what serves each string, and how to write it where strings may differ."""
    strings = found["by_string"]
    if len(strings) < 2:
        return []
    good = {name: one["recommended"] for name, one in strings.items() if one["recommended"] is not None}
    bad = [name for name in strings if name not in good]
    said = []
    if good:
        each = ", ".join(f"{name} {_values(axes, values)}" for name, values in good.items())
        said.append(f"By itself each string would take: {each}.")
    if bad:
        said.append(f"No value tried serves {', '.join(bad)} even by itself.")
    own = f"strategies.{found['strategy']}."
    if good and found["all"]["recommended"] is None and all(axis["key"].startswith(own) for axis in axes):
        name = next(iter(good))
        said.append(f"Strings may differ: [{own}by_string.{name}] {setting_toml(axes, good[name])}, and so on.")
    return said


def _values(axes: Sequence[Summary], values: Sequence[float]) -> str:
    return " / ".join(with_unit(axis, value) for axis, value in zip(axes, values, strict=True))


def setting_toml(axes: Sequence[Summary], values: Sequence[float]) -> str:
    """Return values as a rig file has them."""
    return ", ".join(f"{brief_key(axis['key'])} = {value:g}" for axis, value in zip(axes, values, strict=True))
