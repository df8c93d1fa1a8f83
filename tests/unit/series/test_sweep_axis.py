"""What may be varied, and the one line that refuses the rest."""

import pytest

from scenarios.load import load_rig
from sim.series.sweep_axis import MOST_POINTS, SweepError, parse_axes, parse_axis, spaced
from sim.series.sweep_keys import numeric_keys

KNOWN = {"head.ratio": float, "task.finish_readings": int, "strategies.fine.step_deg": float}

REFUSED = {
    "head.ratoi=1:2:3": "did you mean head.ratio?",
    "step_deg=1:2:3": "did you mean strategies.fine.step_deg?",
    "head.ratio=5:5:3": "the range is empty",
    "head.ratio=6:5:3": "the range is empty",
    "head.ratio=0:10:3:log": "numbers above 0",
    "head.ratio=1:10:1": "N = 1",
    "head.ratio=1:10:2.5": "N = 2.5",
    "head.ratio=1:10:9999": "from 2 to 200",
    "head.ratio=a:10:3": "found a",
    "head.ratio=nan:10:3": "found nan",
    "head.ratio=1:inf:3": "found inf",
    "head.ratio=1:10": "expected KEY=LOW:HIGH:N",
    "head.ratio": "expected KEY=LOW:HIGH:N",
    "=1:2:3": "no number called nothing",
    "task.finish_readings=2:2.3:3": "whole numbers",
}


@pytest.mark.parametrize("text", REFUSED)
def test_what_makes_no_axis_is_refused_in_one_line_that_says_why(text: str) -> None:
    with pytest.raises(SweepError) as refusal:
        parse_axis(text, KNOWN)
    assert REFUSED[text] in str(refusal.value)
    assert text in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_values_are_in_equal_steps_or_equal_ratios() -> None:
    assert parse_axis("head.ratio=1:9:5", KNOWN).values == (1.0, 3.0, 5.0, 7.0, 9.0)
    assert parse_axis("head.ratio=1:16:5:log", KNOWN).values == (1.0, 2.0, 4.0, 8.0, 16.0)


def test_whole_keys_take_whole_values_once() -> None:
    values = parse_axis("task.finish_readings=1:4:9", KNOWN).values
    assert values == (1, 2, 3, 4)
    assert all(type(value) is int for value in values)


def test_rounding_keeps_narrow_ranges_apart() -> None:
    assert len(spaced(440.001, 440.002, 5, log=False, whole=False)) == 5


def test_axes_are_as_many_as_allowed_and_differ() -> None:
    one = "head.ratio=1:9:5"
    with pytest.raises(SweepError, match="twice"):
        parse_axes([one, one], KNOWN, most=2)
    with pytest.raises(SweepError, match="allowed: 1 to 2"):
        parse_axes([one] * 3, KNOWN, most=2)
    with pytest.raises(SweepError, match=str(MOST_POINTS)):
        parse_axes(["head.ratio=1:9:100", "strategies.fine.step_deg=1:9:100"], KNOWN, most=2)


def test_every_numeric_key_can_be_set_to_what_it_is() -> None:
    rig = load_rig("default")
    known = numeric_keys(rig)
    for key in (
        "motor.travel_deg", "head.by_string.E2.ratio", "strings.E2.unit_weight_g_per_m", "instrument.start_cents",
        "strategies.fine.dead_time_s", "strategies.fine.take_up_deg", "task.finish_readings",
    ):  # fmt: skip
        value = 2 if known[key] is int else 20.0
        load_rig("default", changes=(f"{key}={value}",))
    assert not {"motor.part", "task.pitch", "head.tightens", "strategies.fine.driving"} & known.keys()
