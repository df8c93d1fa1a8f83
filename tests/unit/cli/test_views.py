"""Numbers and tables in words."""

import math

import numpy as np
import pytest

from sim.api import run
from sim.views.numbers import broken, number, percent, share, within
from sim.views.tables import Table
from sim.views.tell import MOST_STEPS, shortened, steps, told


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (1.25, "1.25"), (1234.5, "1234"), (0.00123, "0.00123"), (2.0, "2"), (100.0, "100"), (-3.456, "-3.46"),
     (None, "-"), (math.nan, "-"), (math.inf, "-")],
)  # fmt: skip
def test_numbers_have_three_digits_and_no_powers(value: float | None, text: str) -> None:
    assert number(value) == text


def test_a_share_is_never_rounded_to_none_or_all() -> None:
    assert (percent(0.0), percent(0.0002), percent(0.9999), percent(1.0)) == ("0", "<0.1", ">99.9", "100")


def test_none_and_all_are_counts_with_a_bound() -> None:
    """Design: nothing observed is ``0 of 200 (at most 1.5 %)``, never ``0 %``; 1 - 0.05**(1/200) = 0.01487."""
    bound = 1.0 - 0.05 ** (1.0 / 200.0)
    assert broken({"count": 0, "of": 200, "high": bound}) == "0 of 200 (at most 1.5 %)"
    assert share({"count": 0, "of": 200, "low": 0.0, "high": bound}) == "0 of 200 (<= 1.5 %)"
    assert share({"count": 200, "of": 200, "low": 1.0 - bound, "high": 1.0}) == "all 200 (>= 98.5 %)"
    assert share({"count": 47, "of": 50, "low": 0.83783, "high": 0.97939}) == "94 % (83.8-97.9)"


def test_beyond_the_limit_is_said() -> None:
    assert (within(None, 60.0), within(61.0, 60.0), within(12.0, 60.0)) == (">60", ">60", "12")


def test_markdown_escapes_what_would_break_a_table() -> None:
    assert "| a\\|b | c d |" in Table("t", ("x", "y"), (("a|b", "c\nd"),)).markdown()


def test_steps_tell_the_whole_run() -> None:
    """Turns between readings add up to the whole turn of the shaft after the first reading."""
    trace = run("default", "fine", "E2").trace
    found = steps(trace)
    assert [step.reading for step in found] == list(trace.readings)
    begin = float(np.interp(found[0].reading.arrival_s, trace.t_s, trace.shaft_deg))
    assert sum(step.turned_deg for step in found) == pytest.approx(trace.shaft_deg[-1] - begin, abs=1e-9)


def test_a_long_story_keeps_both_ends() -> None:
    table = told(run("default", "coarse", "E2").trace, hide_truth=False)
    assert len(table.rows) > MOST_STEPS
    short = shortened(table)
    assert (short.rows[0], short.rows[-1]) == (table.rows[0], table.rows[-1])
    assert len(short.rows) == MOST_STEPS + 1
