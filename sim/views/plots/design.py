"""The pictures of a design sheet."""

from collections.abc import Sequence
from pathlib import Path

from sim.design.error_budget import Budget
from sim.design.facts import Facts
from sim.views.plots.error_budget import error_budget_bars
from sim.views.plots.pitch_steps import pitch_steps
from sim.views.plots.style import save
from sim.views.plots.turning_senses import turning_senses


def draw(facts: Sequence[Facts], budgets: Sequence[Budget], tolerance_cents: float, out: Path) -> list[Path]:
    """Write ``pitch_steps``, ``error_budget`` and ``turning_senses`` as SVG and PNG into ``out``; return the paths."""
    senses = {each.string: each.tightens for each in _low_first(facts)}
    return [
        *save(pitch_steps(facts, tolerance_cents), out, "pitch_steps"),
        *save(error_budget_bars(budgets), out, "error_budget"),
        *save(turning_senses(senses), out, "turning_senses"),
    ]


def _low_first(facts: Sequence[Facts]) -> Sequence[Facts]:
    """Return the strings from the low side of the neck to the high one, whichever way the rig names them."""
    return facts if facts[0].target_hz <= facts[-1].target_hz else facts[::-1]
