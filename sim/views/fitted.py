"""A fitted statistical ear and its sameness with the signal ear, as tables of words."""

import math
from collections.abc import Mapping, Sequence
from typing import Final

from scenarios.schema import Part
from sim.hearing.sameness import Cell, Difference, worst
from sim.views.numbers import number, percent, signed
from sim.views.tables import Table

SPREADS: Final = ("run_cents", "pluck_cents", "wander_cents", "reading_cents")
FAILURES: Final = ("octave_low_share", "octave_high_share", "wild_share", "missed_share")


def fitted(ears: Mapping[str, Part], readings: int) -> Table:
    """Return the fitted errors of each string, from so many readings of it."""
    rows = tuple((string, *_errors(ear)) for string, ear in ears.items())
    columns = (
        "string", "bias\ncents", "glide\ncents", "run\ncents", "pluck\ncents", "wander\ncents", "noise\ncents",
        "SNR\ndB", "floor\ndB", "gross\n%", "missed\n%",
    )  # fmt: skip
    return Table(f"Statistical ear, as fitted to {readings} readings of each string", columns, rows)


def _errors(ear: Part) -> tuple[str, ...]:
    nominal = ear.nominal()
    gross = nominal.octave_low_share + nominal.octave_high_share + nominal.wild_share
    return (
        signed(nominal.bias_cents, 2), signed(nominal.glide_cents, 1),
        *(number(getattr(nominal, name), 2) for name in SPREADS),
        f"{nominal.fresh_snr_db:.0f}", f"{nominal.floor_snr_db:.0f}", _share(gross), _share(nominal.missed_share),
    )  # fmt: skip


def _share(value: float) -> str:
    return percent(value) if value else "none"


def sameness(cells: Sequence[Cell]) -> Table:
    """Return the 95 % intervals of how the statistical ear differs from the signal ear, and the verdicts."""
    rows = tuple(
        (cell.string, f"{cell.level_db:.0f}", *(_interval(each) for each in cell.differences), cell.verdict())
        for cell in cells
    )
    columns = ("string", "pluck\ndB", *(_head(each) for each in (cells[0].differences if cells else ())), "verdict")
    return Table("Statistical ear against the signal ear: 95 % intervals, under their margins", columns, rows)


def _head(difference: Difference) -> str:
    low, high = (_scale(difference) * end for end in difference.margin)
    margin = f"within {number(high)}" if low == -high else f"{number(low)} to {number(high)}"
    return f"{NAMES[difference.measure]}\n{margin}"


NAMES: Final = {"bias": "bias, cents", "spread": "spread, ratio", "correlation": "correlation", "failed": "failed, %"}
"""How a measure is headed."""


def _scale(difference: Difference) -> float:
    return 100.0 if difference.measure == "failed" else 1.0


def _interval(difference: Difference) -> str:
    if not (math.isfinite(difference.low) and math.isfinite(difference.high)):
        return "no value"
    scale, places = _scale(difference), 1 if difference.measure == "failed" else 2
    return f"{scale * difference.low:.{places}f} to {scale * difference.high:.{places}f}"


def trust(cells: Sequence[Cell]) -> str:
    """Return what the verdicts mean for whoever wants to use the table."""
    verdicts = [cell.verdict() for cell in cells]
    count = f"{verdicts.count('same')} of {len(cells)} cells are the same"
    if worst(verdicts) == "different":
        off = ", ".join(f"{cell.string} at {cell.level_db:.0f} dB" for cell in cells if cell.verdict() == "different")
        return f"{count}; different: {off}. There, trust runs with --ear signal and not this table."
    if worst(verdicts) == "unclear":
        return f"{count}, none is different; too few readings to tell in the others."
    return f"All {len(cells)} cells are the same."
