"""Cells and findings of the fault series on rows made by hand."""

import math

import numpy as np
import pytest

from controllers.guards import GUARDS
from sim.series.fault_cells import Guarding, cell, ended, guardings
from sim.series.fault_findings import findings
from sim.series.fault_row import FAULT_ROW

TWO = ("silence", "motor-current")


def rows(many: int = 4) -> np.ndarray:
    """Return runs that end at 30 s, unbroken, with no guard that trips."""
    made = np.zeros(many, dtype=FAULT_ROW)
    made["seconds"], made["percent_of_breaking"], made["readings"] = 30.0, 60.0, 20
    for guard in GUARDS:
        made[f"{guard} s"], made[f"{guard} percent_of_breaking"] = math.nan, math.nan
    return made


def tripped(made: np.ndarray, run: int, guard: str, at_s: float, broken: bool = False) -> None:
    """Let a guard stop a run."""
    made[f"{guard} s"][run], made[f"{guard} broken"][run] = at_s, broken
    made[f"{guard} readings"][run], made[f"{guard} percent_of_breaking"][run] = 3, 70.0
    made[f"{guard} after_s"][run] = at_s - 1.0  # the fault struck after a second


def test_the_first_guard_to_trip_decides():
    made = rows()
    tripped(made, 0, "silence", 10.0)
    tripped(made, 0, "motor-current", 5.0)
    tripped(made, 1, "silence", 7.0)
    found = ended(made, TWO)
    assert found.by.tolist() == [1, 0, -1, -1]
    assert found.seconds[:2].tolist() == [4.0, 6.0]
    assert np.isnan(found.seconds[2:]).all()
    assert found.percent.tolist() == [70.0, 70.0, 60.0, 60.0]


def test_without_guards_runs_end_as_they_did():
    made = rows()
    made["broken"][:2] = True
    found = ended(made, ())
    assert found.broken.tolist() == [True, True, False, False]
    assert (found.by == -1).all()


def test_a_guard_that_trips_too_late_leaves_the_string_broken():
    made = rows()
    made["broken"][0] = True
    tripped(made, 0, "silence", 10.0, broken=True)
    found = cell("runaway", Guarding("silence", ("silence",), ()), made)
    assert found["broken"]["count"] == 1
    assert found["stopped_by"] == {"silence": 1}
    assert found["unnoticed"] == 3


def test_nothing_observed_has_the_exact_bound():
    """59 clean runs show 95 % at 95 %: the success-run theorem of reliability demonstration."""
    found = cell("hang", Guarding("none", (), ()), rows(59))
    assert found["broken"]["high"] == pytest.approx(1.0 - 0.05 ** (1.0 / 59.0))
    assert 0.049 < found["broken"]["high"] < 0.05


def test_sets_are_none_each_alone_hardware_all_and_all_but_one():
    names = [each.name for each in guardings(TWO, ("slip-clutch",))]
    assert names == [
        "none", "silence", "motor-current", "slip-clutch", "hardware", "all", "all-but:silence",
        "all-but:motor-current", "all-but:slip-clutch",
    ]  # fmt: skip
    last = guardings(TWO, ("slip-clutch",))[-1]
    assert (last.stoppers, last.hardware) == (TWO, ())


def test_hardware_is_the_stop_of_the_knob_too_whose_runs_are_told_from_those_without_it():
    sets = {each.name: each for each in guardings((*TWO, "mechanical-stop"), ("slip-clutch",))}
    assert (sets["hardware"].stoppers, sets["hardware"].hardware) == (("mechanical-stop",), ("slip-clutch",))
    assert sets["all-but:mechanical-stop"] == ("all-but:mechanical-stop", TWO, ("slip-clutch",))
    assert "hardware" in {each.name for each in guardings(("mechanical-stop",), ())}


def table(broken: dict[tuple[str, str], int], sets: list[Guarding]) -> list[dict[str, object]]:
    """Return cells of 10 runs with so many broken ones by fault and set."""
    return [
        {
            "fault": fault, "guards": each.name, "runs": 10, "stopped_by": {}, "string": "E4", "strategy": "fine",
            "percent_of_breaking": 60.0, "plucks": 120, "plucks_to_stop": 30,
            "broken": {"count": broken.get((fault, each.name), 0), "of": 10, "high": 0.3},
        }
        for fault in ("none", "hang", "runaway", "corroded")
        for each in sets
    ]  # fmt: skip


def test_coverage_follows_from_cells():
    sets = guardings(TWO, ("slip-clutch",))
    every = [each.name for each in sets]
    broken = {("corroded", name): 5 for name in every}
    broken |= {("runaway", name): 4 for name in ("none", "silence", "slip-clutch", "hardware", "all-but:motor-current")}
    found = findings(table(broken, sets), sets)
    assert found["coverage"]["breaking"] == ["runaway", "corroded"]
    assert found["coverage"]["held_by_all"] == ["runaway"]
    assert found["coverage"]["held_with_any_one_failed"] == []
    assert found["coverage"]["held_by_hardware_alone"] == []
    assert found["coverage"]["needs_software"] == ["runaway"]
    assert found["residual"] == ["corroded"]
    assert {one["fault"]: one["broken"]["count"] for one in found["worst"]} == {
        "none": 0, "hang": 0, "runaway": 4, "corroded": 5,
    }  # fmt: skip
    assert found["false_trips"]["plucks_lost"] == 3.0
    assert found["false_trips"]["plucks_of_a_tuning"] == 12.0
    best = found["alone"][0]
    assert (best["guard"], best["prevents"], best["of"]) == ("motor-current", 4, 9)
