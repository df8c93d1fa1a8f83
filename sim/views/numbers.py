"""Numbers in words, with how sure they are; what does not apply is a dash."""

import math
from collections.abc import Mapping
from typing import Any

NONE = "-"


def number(value: float | None, digits: int = 3) -> str:
    """Return a number with so many significant digits and no powers of ten; a dash for None, nan and inf."""
    if value is None or not math.isfinite(value):
        return NONE
    places = max(0, digits - 1 - math.floor(math.log10(abs(value)))) if value else 0
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def signed(value: float | None, places: int = 1) -> str:
    """Return a number with its sign and so many decimals; a dash for None, nan and inf."""
    return NONE if value is None or not math.isfinite(value) else f"{value:+.{places}f}"


def percent(share: float) -> str:
    """Return a share as percent without the sign, with a decimal; never rounded to 0 or 100 unless it is that."""
    value = 100.0 * share
    if 0.0 < value < 0.1 or 99.9 < value < 100.0:
        return "<0.1" if value < 50.0 else ">99.9"
    return f"{value:.1f}".removesuffix(".0")


def share(found: Mapping[str, Any]) -> str:
    """Return a share with its interval, such as ``95.2 % (92-97.4)``; none or all as a count with its bound."""
    count, of, low, high = found["count"], found["of"], found["low"], found["high"]
    if not of:
        return NONE
    if count == 0:
        return f"0 of {of}" + ("" if high is None else f" (<= {percent(high)} %)")
    if count == of:
        return f"all {of}" + ("" if low is None else f" (>= {percent(low)} %)")
    return f"{percent(count / of)} %" + ("" if low is None else f" ({percent(low)}-{percent(high)})")


def broken(found: Mapping[str, Any]) -> str:
    """Return how many broke, with the upper bound of the share: ``0 of 240 (at most 7.2 %)``."""
    bound = "" if found["high"] is None else f" (at most {percent(found['high'])} %)"
    return f"{found['count']} of {found['of']}{bound}"


def within(value: float | None, limit: float) -> str:
    """Return a quantile; ``>60`` where it lies beyond a limit of 60."""
    return f">{number(limit)}" if value is None or value > limit else number(value)
