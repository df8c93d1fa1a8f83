"""The pictures of a design sheet show its numbers, and are the same each time."""

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from scenarios.load import load_rig
from sim.design.error_budget import error_budget
from sim.design.facts import describe
from sim.views.plots.design import draw
from sim.views.plots.error_budget import HATCHES, PALE, error_budget_bars, error_budget_title
from sim.views.plots.pitch_steps import pitch_steps, pitch_steps_title
from sim.views.plots.style import save
from sim.views.plots.turning_senses import moves_up, pegs, turning_senses, turning_senses_title

SCENARIO = load_rig("default", changes=('nut.part="plastic-nut"', "ear.bias_cents=1"))
FACTS = describe(SCENARIO)
BUDGETS = [error_budget(SCENARIO, string) for string in SCENARIO.strings]


def bars(drawn: Figure) -> Iterator[Rectangle]:
    (axes,) = drawn.axes
    return (patch for patch in axes.patches if isinstance(patch, Rectangle))


def words(drawn: Figure) -> list[str]:
    return [text.get_text() for text in drawn.axes[0].texts]


def test_bars_end_at_the_total_of_each_string() -> None:
    ends: dict[int, float] = {}
    for bar in bars(error_budget_bars(BUDGETS)):
        row = round(bar.get_y() + bar.get_height() / 2.0)
        ends[row] = max(ends.get(row, 0.0), bar.get_x() + bar.get_width())
    assert list(ends.values()) == pytest.approx([budget.total_cents() for budget in BUDGETS], rel=0.02)


def test_shares_differ_in_hatch_and_in_grey() -> None:
    assert len(BUDGETS[0].shares) == len(set(HATCHES)) == len(set(PALE))
    hatches = {bar.get_hatch() for bar in bars(error_budget_bars(BUDGETS))}
    assert len(hatches) >= 6


def test_the_title_of_the_budget_says_what_was_found() -> None:
    worst = max(BUDGETS, key=lambda budget: budget.total_cents())
    first, second = error_budget_title(BUDGETS)
    assert worst.string in first
    assert worst.helps_most().share in second


def test_steps_stand_where_the_facts_say() -> None:
    (axes,) = pitch_steps(FACTS, 3.0).axes
    marked = sorted(x for line in axes.lines if line.get_marker() != "None" for x in line.get_xdata())
    assert marked == pytest.approx(sorted(each.step_cents for each in FACTS))
    assert axes.get_xscale() == "log"


def test_steps_beyond_any_axis_are_arrows() -> None:
    odd = [replace(FACTS[0], step_cents=0.0, step_set_by="nothing"), replace(FACTS[1], step_cents=math.inf)]
    (axes,) = pitch_steps(odd, 3.0).axes
    assert {"<", ">"} <= {line.get_marker() for line in axes.lines}
    assert pitch_steps_title(odd[:1], 3.0) == "Nothing limits the pitch steps of any string"
    assert "no step is sure to come" in pitch_steps_title(odd, 3.0)


@pytest.mark.parametrize(
    ("tightens", "side", "up"), [("clockwise", -1, False), ("anticlockwise", -1, True), ("clockwise", 1, True)]
)
def test_arrows_follow_from_the_sense_seen_from_the_knobs_end(tightens: str, side: int, up: bool) -> None:
    """Whoever looks at the end of a left knob has the front at the right hand, where clockwise goes down."""
    assert moves_up(tightens, side) == up


def test_strings_go_up_one_row_and_down_the_other() -> None:
    assert [(peg.string, peg.side, peg.row) for peg in pegs(("G3", "D4", "A4", "E5"))] == [
        ("G3", -1, 0), ("D4", -1, 1), ("A4", 1, 1), ("E5", 1, 0)
    ]  # fmt: skip
    assert [(peg.side, peg.row) for peg in pegs(("A", "B", "C"))] == [(-1, 0), (-1, 1), (1, 0)]


def test_an_unknown_sense_is_a_question_and_no_arrow() -> None:
    drawn = turning_senses({"G3": "unknown", "D4": "clockwise"})
    assert words(drawn).count("?") == 1
    assert "G3" in turning_senses_title({"G3": "unknown", "D4": "clockwise"})[0]
    assert "All knobs tighten clockwise" in turning_senses_title({"D4": "clockwise", "A4": "clockwise"})[0]
    assert "not all" in turning_senses_title({"D4": "clockwise", "A4": "anticlockwise"})[0]


def test_files_are_the_same_each_time(tmp_path: Path) -> None:
    first = draw(FACTS, BUDGETS, 3.0, tmp_path / "a")
    again = save(error_budget_bars(BUDGETS), tmp_path / "b", "error_budget")
    assert [path.name for path in first] == [
        f"{stem}.{kind}" for stem in ("pitch_steps", "error_budget", "turning_senses") for kind in ("svg", "png")
    ]
    assert [path.read_bytes() for path in first[2:4]] == [path.read_bytes() for path in again]
