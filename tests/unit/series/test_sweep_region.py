"""Which setting is taken, how far it may be off, and what stops the others. All numbers are invented."""

import numpy as np
import pytest

from sim.series.grid import Grid
from sim.series.measures import tried
from sim.series.sweep_axis import Axis
from sim.series.sweep_judge import contradictions, shortfalls, stopping
from sim.series.sweep_region import Judged, answer
from tests.unit.series.made import PLUCK_LIMIT, REQUIRE, all_good, facts

AXIS = Axis("strategies.fine.step_deg", "deg", False, (1.0, 2.0, 3.0, 4.0, 5.0, 6.0), False)
FEW = {"plucks p95": 0.2, "specimens meeting": 0.0}
BAD = {"plucks p95": 0.0, "specimens meeting": 0.1}
GOOD = {"plucks p95": 0.0, "specimens meeting": 0.0}


def settings(told: str, plucks: list[float]) -> list[Judged]:
    """``p`` fails by plucks, ``m`` by machines, ``~`` is likely, ``+`` is sure."""
    words = {"p": ("fails", FEW), "m": ("fails", BAD), "~": ("likely", GOOD), "+": ("meets", GOOD)}
    spread = np.linspace(-0.5, 0.5, 20)
    return [
        Judged((value,), *words[one], mean + spread) for value, one, mean in zip(AXIS.values, told, plucks, strict=True)
    ]


def test_fewest_plucks_are_taken_among_those_that_meet_for_sure() -> None:
    found = answer([AXIS], settings("p+++~m", [30, 20, 15, 10, 8, 5]))
    assert found["recommended"] == [4.0]
    assert found["verdict"] == "meets"


def test_likely_ones_serve_where_none_is_sure() -> None:
    found = answer([AXIS], settings("pp~~mm", [30, 20, 15, 10, 8, 5]))
    assert (found["recommended"], found["verdict"]) == ([4.0], "likely")


def test_a_lone_lucky_value_does_not_win_over_a_region() -> None:
    found = answer([AXIS], settings("p~~~m+", [30, 20, 15, 10, 8, 5]))
    assert (found["recommended"], found["verdict"]) == ([4.0], "likely")


def test_of_equals_the_middle_of_the_region_is_taken() -> None:
    found = answer([AXIS], settings("p+++++", [30, 10.9, 10.8, 10.4, 10.2, 10.0]))
    assert found["recommended"] == [4.0]  # the region is 2 to 6


def test_a_pluck_more_counts() -> None:
    found = answer([AXIS], settings("p+++++", [30, 14.0, 13.0, 12.5, 11.5, 10.0]))
    assert found["recommended"] == [6.0]


def test_how_far_it_may_be_off_is_to_the_first_failure_on_either_side() -> None:
    (off,) = answer([AXIS], settings("p~++mm", [30, 20, 15, 10, 8, 5]))["off"]
    assert (off["low"], off["high"]) == (2.0, 4.0)
    assert (off["fails_below"], off["stopped_below"]) == (1.0, "plucks p95")
    assert (off["fails_above"], off["stopped_above"]) == (5.0, "specimens meeting")


def test_the_end_of_what_was_tried_is_no_failure() -> None:
    (off,) = answer([AXIS], settings("++++++", [30, 20, 15, 10, 8, 5]))["off"]
    assert (off["low"], off["high"], off["fails_below"], off["fails_above"]) == (1.0, 6.0, None, None)


def test_where_none_meets_the_nearest_is_named_and_what_stops_it() -> None:
    found = answer([AXIS], settings("pppmmm", [30, 20, 15, 10, 8, 5]))
    assert found["recommended"] is None
    assert found["nearest"] == [6.0]  # machines lack 0.1, plucks 0.2; of equals the fewest plucks
    assert found["stopped_by"] == "specimens meeting"


def test_two_keys_are_off_one_at_a_time() -> None:
    other = Axis("strategies.fine.deadband_cents", "cents", False, (1.0, 2.0, 3.0), False)
    cells = {(1.0, 1.0): "p", (2.0, 1.0): "+", (3.0, 1.0): "m"}
    axis = Axis("strategies.fine.step_deg", "deg", False, (1.0, 2.0, 3.0), False)
    spread = np.linspace(-0.5, 0.5, 20)
    words = {"p": ("fails", FEW), "m": ("fails", BAD), "+": ("meets", GOOD)}
    plane = [
        Judged((one, two), *words[cells.get((one, two), "m")], 10 + spread)
        for one in axis.values
        for two in other.values
    ]
    found = answer([axis, other], plane)
    assert found["recommended"] == [2.0, 1.0]
    assert [(off["fails_below"], off["fails_above"]) for off in found["off"]] == [(1.0, 3.0), (None, 2.0)]


@pytest.mark.parametrize(
    ("change", "requirement", "missed"),
    [
        ({}, None, 0.0),
        ({"in_tune": False}, "specimens meeting", 0.9),
        ({"plucks": 21}, "plucks p95", 0.95),
        ({"seconds": 61.0}, "seconds p95", 0.95),
        ({"percent_of_breaking": 88.0}, "percent of breaking max", 0.1),
    ],
)
def test_shortfall_says_by_how_much_a_requirement_is_missed(change, requirement, missed) -> None:
    grid = Grid((facts(require=REQUIRE, strategies=("slow",)),), 10, 2)
    rows = all_good(grid)
    for name, value in change.items():
        rows[name] = value
    found = shortfalls(tried(grid, rows)[0])
    assert stopping(found) == requirement
    assert max(found.values()) == pytest.approx(missed)


def test_unfinished_runs_count_as_beyond_what_is_allowed() -> None:
    grid = Grid((facts(require=REQUIRE, strategies=("slow",)),), 10, 2)
    rows = all_good(grid)
    rows["finished"][:4], rows["outcome"][:4] = False, PLUCK_LIMIT
    assert shortfalls(tried(grid, rows)[0])["plucks p95"] == pytest.approx(0.1 - 0.05)


def test_requirements_that_no_setting_can_meet_are_named() -> None:
    from scenarios.load import load_rig

    asked = ("require.plucks=1", "require.seconds=0.5", "require.percent_of_breaking=20")
    found = contradictions(load_rig("default", changes=asked))
    assert [line.partition(" =")[0] for line in found] == [
        "require.plucks",
        "require.seconds",
        "require.percent_of_breaking",
    ]
    assert contradictions(load_rig("default", changes=("require={}",))) == []
