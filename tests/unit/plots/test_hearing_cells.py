"""Outcomes, bias and latency show the numbers of the cells of a study. Studies are invented."""

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
from hearing_studies import (
    TWO,
    cell,
    facts,
    marked,
    said,
    study,
    wrong,
)
from numpy.testing import assert_allclose
from pytest import approx

from sim.hearing.study import (
    Count,
    Latency,
)
from sim.views.plots import (
    hearing_bias,
    hearing_latency,
    hearing_outcomes,
)
from sim.views.plots.hearing_bias import bias, predicted
from sim.views.plots.hearing_latency import latency, milliseconds
from sim.views.plots.hearing_outcomes import SHADES, outcomes, tally


def test_outcomes_add_up_and_stand_in_the_bars() -> None:
    drawn = outcomes(TWO)
    assert tally([wrong("A")]) == (90, 50, 30, 10, 20)
    _, hasty = drawn.axes
    widths = {bars.get_label(): [bar.get_width() for bar in bars] for bars in hasty.containers}
    assert widths == {
        meaning: approx([share] * 2) for meaning, share in zip(SHADES, (45.0, 25.0, 15.0, 5.0, 10.0), strict=True)
    }
    starts = [[bar.get_x() for bar in bars] for bars in hasty.containers]
    assert_allclose(starts, np.array([[0.0, 45.0, 70.0, 85.0, 90.0]] * 2).T)


def test_outcomes_differ_in_brightness_or_hatching() -> None:
    """Weights of red, green and blue in brightness: ITU-R BT.601."""

    def grey(colour: str) -> float:
        return float(np.dot([int(colour[at : at + 2], 16) for at in (1, 3, 5)], [0.299, 0.587, 0.114]))

    shades = [(grey(shade["facecolor"]), shade.get("hatch", "")) for shade in SHADES.values()]
    alike = [(one, two) for one, two in combinations(shades, 2) if abs(one[0] - two[0]) < 25 and one[1] == two[1]]
    assert alike == []


def test_outcomes_title_counts_and_bounds_what_was_not_seen() -> None:
    surer = replace(TWO.cells[0], gross=Count(0, 200, 0.01))
    own, worst = hearing_outcomes.title(replace(TWO, cells=(surer, *TWO.cells[1:])))
    assert (
        own
        == "careful: 400 of 400 windows within 50 cents of the first partial; gross: none (at most 3 % on any string)"
    )
    assert worst.startswith("fewest near: hasty: 180 of 400 windows")
    assert worst.endswith("100 an octave up, 60 an octave down, 20 otherwise wrong, 40 missed")


def test_a_prediction_is_the_sum_of_its_parts_and_drawn_end_to_end() -> None:
    drawn = bias(TWO)
    expected = drawn.axes[0]
    first = [bar for bars in expected.containers for bar in bars][:3]
    ends = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in first]
    assert_allclose(ends, [(0.0, 1.1), (1.1, 1.9), (1.9, 1.5)])
    assert predicted(facts("A")) == approx(1.5)
    for axes in drawn.axes:
        assert [x for x, _ in marked(axes, "sum")] == approx([1.5, 1.2])


def test_bias_is_marked_with_its_spread_and_a_far_one_as_an_arrow() -> None:
    _, own, hasty = bias(TWO).axes
    (first, _) = own.containers
    assert first.lines[0].get_xdata()[0] == approx(1.4)
    assert first.lines[2][0].get_segments()[0][:, 0] == approx([0.8, 2.0])
    assert hasty.containers == []
    assert [line.get_marker() for line in hasty.lines if line.get_gid() == hearing_bias.OFF_SCALE] == [">", ">"]
    assert [text.get_text() for text in hasty.texts] == ["+31", "+31"]


def test_bias_title_names_the_largest_and_what_was_expected() -> None:
    cells = (cell("string 0", "careful", bias_cents=-4.0), cell("string 1", "careful", bias_cents=math.nan))
    found = replace(study(2, 1), cells=cells)
    assert hearing_bias.title(found) == [
        "careful re the first partial: largest bias -4.0 cents, on string 0, "
        "where +1.5 are expected of a detector of the period",
        "bias and expectation differ by at most 5.5 cents (string 0)",
    ]
    assert "none within 50" in said(bias(found))


def test_latency_passes_in_order_and_ends_at_its_sum() -> None:
    own, every = latency(TWO).axes
    bars = [bar for each in own.containers for bar in each]
    ends = [bar.get_x() + bar.get_width() for bar in bars]
    assert [bar.get_x() for bar in bars] == approx([0.0, *ends[:-1]])
    assert ends[-1] == approx(1e3 * TWO.cells[0].latency.total_s())
    assert sum(milliseconds(TWO.cells[0].latency).values()) == approx(ends[-1])
    assert [text.get_text() for text in every.texts] == ["688 ms", "886 ms, does not fit"]
    assert every.containers[4].patches[0].get_x() + 128.0 == approx(ends[-1])  # last part of the first bar


def test_latency_title_and_a_cost_that_nobody_knows() -> None:
    assert hearing_latency.title(TWO) == [
        "careful: 688 ms from the pluck to the first valid reading",
        "longest part: skip after the pluck, 300 ms (44 %)",
    ]
    silent = cell("string 0", "careful", latency=Latency(0.3, 0.256, None, 0.0017, 0.128), fits=None)
    found = replace(study(1, 1), cells=(silent,))
    assert "unknown" in said(latency(found))
    assert "at least 686 ms" in hearing_latency.title(found)[0]
