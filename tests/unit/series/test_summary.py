import json

import numpy as np
import pytest

from sim.series.files import to_json
from sim.series.grid import Grid, chosen
from sim.series.measures import tried
from sim.series.require import FAILS, MEETS, NOT_RESOLVED, required, specimens_for_share
from sim.series.sentences import sentences
from sim.series.statistics import wilson, zero_bound
from sim.series.summary import summarise
from sim.series.verdict import holds
from tests.unit.series.made import BROKE, PLUCK_LIMIT, REQUIRE, all_good, facts

SPECIMENS, TUNINGS = 20, 3
PLAIN = Grid((facts(),), SPECIMENS, TUNINGS)


def picked(rows, strategy, string=None):
    return (rows["strategy"] == strategy) & ((rows["string"] == string) if string is not None else True)


def unfinished(rows, where):
    rows["finished"][where] = rows["in_tune"][where] = False
    rows["outcome"][where] = PLUCK_LIMIT


def broken(rows, where):
    unfinished(rows, where)
    rows["outcome"][where], rows["broken"][where], rows["final_error_cents"][where] = BROKE, True, np.nan


def test_summary_has_the_promised_keys():
    summary = summarise(PLAIN, all_good(PLAIN), 1)
    assert set(summary) == {"rigs", "seed", "specimens", "tunings", "strategies", "differences", "require", "assumed"}
    common = {
        "runs", "in_tune", "finished_not_in_tune", "plucks", "seconds", "overshoot_cents", "final_error_cents",
        "percent_of_breaking", "broken",
    }  # fmt: skip
    one = summary["strategies"][0]
    assert set(one) == common | {"rig", "name", "specimens_meeting", "whole_instrument", "by_string"}
    assert set(one["in_tune"]) == {"count", "of", "share", "low", "high"}
    assert set(one["percent_of_breaking"]) == {"median", "p95", "max"}
    assert set(one["broken"]) == {"count", "of", "high"}
    assert {name: set(found) for name, found in one["by_string"].items()} == {"E2": common, "G3": common}
    assert summary["strategies"][1]["name"] == "quick"


def test_nothing_broken_is_told_with_what_is_still_possible():
    found = summarise(PLAIN, all_good(PLAIN), 1)["strategies"][0]["broken"]
    assert found == {"count": 0, "of": SPECIMENS * TUNINGS * 2, "high": zero_bound(SPECIMENS)}


def test_unfinished_and_broken_runs_lie_beyond_the_limit():
    rows = all_good(PLAIN)
    unfinished(rows, picked(rows, 0) & (rows["specimen"] < 2))
    plucks = summarise(PLAIN, rows, 1)["strategies"][0]["plucks"]
    assert plucks == {"median": 10.0, "p95": None, "note": "beyond limit of 60"}


def test_broken_strings_have_no_final_error_and_yet_count():
    rows = all_good(PLAIN)
    broken(rows, picked(rows, 0) & (rows["specimen"] < 15))
    one = summarise(PLAIN, rows, 1)["strategies"][0]
    assert one["final_error_cents"]["median"] is None
    assert json.loads(to_json(one), parse_constant=pytest.fail)["broken"]["count"] == 15 * 2 * TUNINGS


def test_whole_instrument_needs_every_string_of_the_same_tuning():
    rows = all_good(PLAIN)
    rows["in_tune"][picked(rows, 0, 0) & (rows["tuning"] == 0)] = False
    rows["in_tune"][picked(rows, 0, 1) & (rows["tuning"] == 1)] = False
    one = summarise(PLAIN, rows, 1)["strategies"][0]
    assert one["whole_instrument"]["count"] == SPECIMENS * (TUNINGS - 2)
    assert one["in_tune"]["count"] == SPECIMENS * TUNINGS * 2 - 2 * SPECIMENS
    assert one["finished_not_in_tune"] == 2 * SPECIMENS


def test_specimen_with_a_broken_string_does_not_meet():
    grid = Grid((facts(),), SPECIMENS, 30)  # one run of sixty is less than a tenth
    rows = all_good(grid)
    broken(rows, picked(rows, 0, 0) & (rows["specimen"] == 4) & (rows["tuning"] == 0))
    unfinished(rows, picked(rows, 0, 0) & (rows["specimen"] == 5) & (rows["tuning"] == 0))
    unfinished(rows, picked(rows, 0, 0) & (rows["specimen"] == 6) & (rows["tuning"] < 7))
    meeting = summarise(grid, rows, 1)["strategies"][0]["specimens_meeting"]
    assert (meeting["count"], meeting["of"]) == (SPECIMENS - 2, SPECIMENS)
    assert meeting["low"] == wilson(SPECIMENS - 2, SPECIMENS).low


def test_difference_is_paired_by_specimen_tuning_and_string():
    rows = all_good(PLAIN)
    hard = rows["specimen"] % 5  # hard for both strategies: nothing of it is left in pairs
    rows["plucks"] = 10 + 8 * hard
    rows["plucks"][picked(rows, 1)] -= 2 + (rows["specimen"][picked(rows, 1)] % 2)
    found = next(one for one in summarise(PLAIN, rows, 1)["differences"] if one["measure"] == "plucks")
    assert (found["strategy"], found["against"], found["mean"]) == ("quick", "slow", -2.5)
    assert (found["better"], found["equal"], found["worse"]) == (SPECIMENS * TUNINGS * 2, 0, 0)
    assert -3.0 <= found["low"] < -2.5 < found["high"] <= -2.0
    assert found["p_holm"] < 0.01


def test_no_difference_is_told_without_an_interval():
    for found in summarise(PLAIN, all_good(PLAIN), 1)["differences"]:
        assert (found["mean"], found["low"], found["p"], found["better"]) == (0.0, None, 1.0, 0)
        assert "alike" in found["note"]


def test_run_that_did_not_finish_counts_as_its_limit():
    rows = all_good(PLAIN)
    unfinished(rows, picked(rows, 1) & (rows["specimen"] == 0) & (rows["tuning"] == 0))
    found = next(one for one in summarise(PLAIN, rows, 1)["differences"] if one["measure"] == "plucks")
    assert found["mean"] == pytest.approx(2 * (60 - 10) / (SPECIMENS * TUNINGS * 2))
    assert found["worse"] == 2


def test_words_name_the_better_choice_and_the_worst_string():
    rows = all_good(PLAIN)
    rows["plucks"][picked(rows, 1)] = 4 + rows["specimen"][picked(rows, 1)] % 3
    unfinished(rows, picked(rows, 0, 1) & (rows["specimen"] < 5) & (rows["tuning"] == 0))
    words = sentences(tried(PLAIN, rows))
    assert "quick is the better choice for whoever wants the fewest plucks." in words
    assert f"Which strategy gives the least overshoot is not resolved with {SPECIMENS} specimens." in words
    assert "slow fails most on string G3: in tune in 55 of 60 tunings (91.7 %)." in words
    assert "quick brought every string to pitch in all 120 tunings." in words


def test_strategy_that_is_better_on_average_and_worse_in_most_specimens_is_not_called_better():
    rows = all_good(PLAIN)
    rows["plucks"][picked(rows, 1)] = 11
    rows["plucks"][picked(rows, 1) & (rows["specimen"] == 0)] = 1
    rows["plucks"][picked(rows, 0) & (rows["specimen"] == 0)] = 59
    assert not any("fewest plucks" in word and "better choice" in word for word in sentences(tried(PLAIN, rows)))


def verdicts(specimens, change=lambda rows: None, **wanted):
    grid = Grid((facts(strategies=("only",), require=REQUIRE | wanted),), specimens, TUNINGS)
    rows = all_good(grid)
    change(rows)
    return {one["requirement"]: one for one in required(tried(grid, rows)[0])}


def test_clean_specimens_meet_once_there_are_enough():
    # 0.9^28 > 0.05 > 0.9^29: 29 clean specimens tell of 90 %; 59 of a 95th percentile. Independent arithmetic.
    assert verdicts(29)["specimens meeting"]["verdict"] == MEETS
    found = verdicts(28)["specimens meeting"]
    assert (found["verdict"], found["specimens_needed"]) == (NOT_RESOLVED, 29)
    assert verdicts(59)["plucks p95"]["verdict"] == MEETS
    assert verdicts(58)["plucks p95"]["specimens_needed"] == 59


def test_clear_failures_fail_with_few_specimens():
    found = verdicts(12, lambda rows: rows.__setitem__("plucks", 30))
    assert (found["plucks p95"]["verdict"], found["plucks p95"]["found"]) == (FAILS, 30.0)
    assert verdicts(12, lambda rows: unfinished(rows, slice(None)))["specimens meeting"]["verdict"] == FAILS


def test_one_run_above_the_highest_tension_fails():
    def strain(rows):
        rows["percent_of_breaking"][7] = 80.1

    assert verdicts(200, strain)["percent of breaking max"]["verdict"] == FAILS
    assert verdicts(200)["percent of breaking max"]["verdict"] == MEETS
    assert verdicts(10)["percent of breaking max"]["specimens_needed"] == 29


@pytest.mark.parametrize(("found", "wanted"), [(0.97, 0.9), (0.85, 0.9), (0.6, 0.5)])
def test_specimens_needed_are_where_wilson_leaves_the_wanted_share(found, wanted):
    def tells(number):
        interval = wilson(found * number, number)
        return not interval.low <= wanted <= interval.high

    needed = specimens_for_share(found, wanted)
    assert tells(needed + 1)
    assert not tells(needed - 2)


def test_share_that_is_exactly_as_wanted_is_never_resolved():
    assert specimens_for_share(0.9, 0.9) is None


def test_without_requirements_there_is_no_verdict():
    assert summarise(PLAIN, all_good(PLAIN), 1)["require"] == []


@pytest.mark.parametrize(
    ("expression", "expected"),
    [
        ("in_tune<0.95", True), ("quick:in_tune<0.95", False), ("slow:in_tune < 0.95", True), ("broken>0", False),
        ("plucks.p95>20", True), ("plucks>20", False), ("quick:plucks.p95>=10", True), ("broken.high<=1", True),
        ("finished_not_in_tune==0", True), ("percent_of_breaking>59.5", True),
    ],
)  # fmt: skip
def test_comparisons_are_read_as_meant(expression, expected):
    rows = all_good(PLAIN)
    unfinished(rows, picked(rows, 0) & (rows["specimen"] < 2))  # beyond the limit is more than any number
    assert holds(expression, summarise(PLAIN, rows, 1)) is expected


@pytest.mark.parametrize(
    ("expression", "words"),
    [
        ("in_tune", "wanted"), ("in_tune<", "wanted"), ("in_tun<1", "known: in_tune"), ("in_tune<nan", "no number"),
        ("in_tune<0,95", "no number"), ("plucks.max>1", "known: median, p95"), ("nobody:broken>0", "known: slow"),
        ("__import__('os')<1", "wanted"), ("", "wanted"), ("finished_not_in_tune.x>0", "known: none"),
    ],
)  # fmt: skip
def test_anything_else_is_refused_in_one_line(expression, words):
    with pytest.raises(ValueError, match=words) as caught:
        holds(expression, summarise(PLAIN, all_good(PLAIN), 1))
    assert "\n" not in str(caught.value)


def test_unknown_names_are_refused_with_the_nearest():
    with pytest.raises(ValueError, match="did you mean quick"):
        chosen(["quik"], [("slow", "quick")], "strategy")
    with pytest.raises(ValueError, match="a rig has no string named G3"):
        chosen(["G3"], [("E2", "G3"), ("A4",)], "string")
    assert chosen(["b", "a"], [("a", "b", "c"), ("b",)], "strategy") == [("b", "a"), ("b",)]
