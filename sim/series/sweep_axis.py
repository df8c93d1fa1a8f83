"""One key that is varied: from ``KEY=LOW:HIGH:N[:log]`` to its values."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from models.units import unit_of

Number = int | float
FORM = "KEY=LOW:HIGH:N, with :log behind for equal ratios"
MOST_VALUES = 200  # of one key
MOST_POINTS = 400  # of two keys together
FINE = 50  # steps into which a search divides a key


class SweepError(ValueError):
    """What was asked of a sweep makes none: one line that says what was found and what is allowed."""


@dataclass(frozen=True, slots=True)
class Axis:
    """A key and the values that it takes."""

    key: str
    unit: str
    """Of the values; empty for a pure number."""
    log: bool
    """Whether equal ratios count as equal distances."""
    values: tuple[Number, ...]
    """Rising."""
    whole: bool
    """Whether only whole numbers make sense."""

    def plain(self) -> dict[str, Any]:
        """Return the axis as plain data."""
        return {"key": self.key, "unit": self.unit, "log": self.log, "values": list(self.values)}

    def place(self, value: Number) -> float:
        """Return where a value lies on the scale of the axis."""
        return math.log(value) if self.log else float(value)

    def at(self, share: float) -> Number:
        """Return the value at a share, 0 to 1, of the way from the lowest to the highest."""
        low, high = self.values[0], self.values[-1]
        value = low * (high / low) ** share if self.log else low + share * (high - low)
        return _rounded(value, self.whole, _digits(low, high, FINE))


def parse_axis(text: str, known: Mapping[str, type], *, counted: bool = True) -> Axis:
    """Return the axis that a text describes; ``known`` are the numeric keys of the rig, with ``int`` or ``float``.

    Without ``counted`` the form is ``KEY=LOW:HIGH[:log]``, and the axis has its two ends as values. Raises
    ``SweepError`` for anything else.
    """
    key, equals, span = (part.strip() for part in text.partition("="))
    parts = [part.strip() for part in span.split(":")]
    log = parts[-1] == "log"
    numbers = parts[: len(parts) - log]
    wanted = FORM if counted else FORM.replace(":N", "")
    if not equals or len(numbers) not in ((3,) if counted else (2, 3)):
        raise SweepError(f"--vary {text}: expected {wanted}")
    _see_known(text, key, known)
    low, high = (_number(text, part) for part in numbers[:2])
    many = _count(text, numbers[2]) if len(numbers) == 3 else 2
    _see_span(text, low, high, log)
    whole = known[key] is int
    values = spaced(low, high, many if counted else 2, log, whole)
    if len(values) < 2:
        raise SweepError(f"--vary {text}: leaves one value, {values[0]}; this key takes whole numbers, widen the range")
    return Axis(key, unit_of(key), log, values, whole)


def parse_axes(texts: Sequence[str], known: Mapping[str, type], *, most: int, counted: bool = True) -> tuple[Axis, ...]:
    """Return all axes. Raises ``SweepError`` when there are none, more than ``most``, or one twice."""
    axes = tuple(parse_axis(text, known, counted=counted) for text in texts)
    keys = [axis.key for axis in axes]
    if not 1 <= len(axes) <= most:
        raise SweepError(f"--vary is given {len(axes)} times; allowed: 1 to {most}")
    if len(set(keys)) < len(keys):
        raise SweepError(f"--vary {keys[-1]}: the same key is varied twice")
    points = math.prod(len(axis.values) for axis in axes)
    if points > MOST_POINTS:
        raise SweepError(f"--vary: {points} settings; allowed: at most {MOST_POINTS}, or search with --best")
    return axes


def spaced(low: Number, high: Number, many: int, log: bool, whole: bool) -> tuple[Number, ...]:
    """Return ``many`` values from ``low`` to ``high`` in equal steps or ratios, rounded, each once."""
    shares = [place / (many - 1) for place in range(1, many - 1)]
    inner = [low * (high / low) ** share if log else low + share * (high - low) for share in shares]
    digits = _digits(low, high, many)
    found = [*(_rounded(value, whole, digits) for value in (low, *inner)), _rounded(high, whole, digits)]
    return tuple(dict.fromkeys(found))


def _digits(low: float, high: float, many: int) -> int:
    """Return significant digits enough to keep a hundredth of a step."""
    step = (high - low) / (many - 1)
    return max(3, 2 + math.ceil(math.log10(max(abs(low), abs(high)) / step)))


def _rounded(value: float, whole: bool, digits: int) -> Number:
    return round(value) if whole else float(f"{value:.{digits}g}")


def _see_known(text: str, key: str, known: Mapping[str, type]) -> None:
    if key in known:
        return
    near = get_close_matches(key, known, n=1, cutoff=0.5) or _same_end(key, known)
    hint = f"did you mean {near[0]}?" if near else "pegloop check RIG --json lists the keys of a rig"
    raise SweepError(f"--vary {text}: the rig has no number called {key or 'nothing'}; {hint}")


def _same_end(key: str, known: Mapping[str, type]) -> list[str]:
    end = key.rpartition(".")[2]
    return [name for name in known if name.endswith(f".{end}")]


def _number(text: str, part: str) -> float:
    value = _or_nan(float, part)
    if not math.isfinite(value):
        raise SweepError(f"--vary {text}: found {part or 'nothing'}; expected a number")
    return value


def _count(text: str, part: str) -> int:
    value = _or_nan(int, part)
    if not 2 <= value <= MOST_VALUES:
        raise SweepError(
            f"--vary {text}: found N = {part or 'nothing'}; allowed: a whole number from 2 to {MOST_VALUES}"
        )
    return int(value)


def _or_nan(kind: Callable[[str], float], part: str) -> float:
    try:
        return kind(part)
    except ValueError:
        return math.nan


def _see_span(text: str, low: float, high: float, log: bool) -> None:
    if low >= high:
        raise SweepError(f"--vary {text}: the range is empty; LOW must be below HIGH")
    if log and low <= 0:
        raise SweepError(f"--vary {text}: found {low:g}; equal ratios (:log) need numbers above 0")
