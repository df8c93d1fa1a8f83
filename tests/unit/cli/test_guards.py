"""Guards of a rig from the outside: runs that they stop, refusals, and what the commands say of them."""

import json
from pathlib import Path

import pytest

from tests.unit.cli.conftest import Command

RUNAWAY = (
    "gear-motor", "--set", 'nut.part="free"', "--set", 'faults.a.kind="runaway"', "--set", "faults.a.from_reading=2",
)  # fmt: skip
BUDGET = ("--set", 'guards.mine.kind="tightening-budget"')
STUCK = ("--set", 'faults.a.kind="stuck-reading"', "--set", "faults.a.from_reading=2")


def current(*numbers: str) -> list[str]:
    """Return the options of a current guard."""
    given = ['kind="motor-current"', *numbers]
    return [word for number in given for word in ("--set", f"guards.amps.{number}")]


def test_a_current_guard_in_a_rig_stops_a_runaway_below_breaking(pegloop: Command) -> None:
    bare = json.loads(pegloop("run", *RUNAWAY, "--string", "E4", "--json").out)
    held = pegloop("run", *RUNAWAY, *current("hold_s=0.1"), "--string", "E4", "--json")
    found = json.loads(held.out)
    assert (held.code, bare["outcome"], found["outcome"]) == (0, "string broke", "guard tripped")
    assert found["percent_of_breaking"] < 95.0


def test_a_guard_that_is_too_slow_leaves_the_string_broken(pegloop: Command) -> None:
    found = json.loads(pegloop("run", *RUNAWAY, *current("hold_s=60"), "--string", "E4", "--json").out)
    assert found["outcome"] == "string broke"


def test_a_run_says_which_guard_tripped_and_what_to_do(pegloop: Command, tmp_path: Path) -> None:
    found = pegloop("run", "--string", "E4", *BUDGET, *STUCK, "--out", tmp_path / "out")
    assert "guard tripped (mine)" in found.out
    assert "look for the cause" in found.out
    assert "was stopped by a guard" in (tmp_path / "out" / "timeline.svg").read_text("utf-8")


def test_a_comparison_counts_runs_that_a_guard_stopped_as_not_finished(pegloop: Command, tmp_path: Path) -> None:
    words = ("compare", "--strings", "E4", "--strategies", "coarse", "--rigs", 2, "--jobs", 1, "--quiet")
    assert pegloop(*words, *BUDGET, *STUCK, "--out", tmp_path / "out").code == 0
    rows = (tmp_path / "out" / "runs.csv").read_text("utf-8").splitlines()
    stopped = [row for row in rows if ",guard tripped,false," in row]
    assert stopped
    assert pegloop(*words, *BUDGET, *STUCK, "--out", tmp_path / "out", "--resume").code == 0
    assert (tmp_path / "out" / "runs.csv").read_text("utf-8").splitlines() == rows


def test_a_limit_of_a_guard_can_be_swept(pegloop: Command) -> None:
    words = (
        "sweep",
        "--strategies",
        "coarse",
        "--set",
        'instrument.strings=["E4"]',
        "--rigs",
        2,
        "--jobs",
        1,
        "--json",
    )
    found = json.loads(pegloop(*words, *BUDGET, *STUCK, "--vary", "guards.mine.most_deg=100:400:2").out)
    assert "guards.mine.most_deg" in json.dumps(found)


FAULTS = ("faults", "--strings", "E4", "--rigs", 2, "--jobs", 1, "--quiet", "--faults", "stuck-reading")


def test_the_fault_series_takes_the_limits_of_the_file_and_leaves_its_bare_runs_unguarded(pegloop: Command) -> None:
    asked = (*FAULTS, "--guards", "tightening-budget,pitch-ceiling")
    tight = json.loads(pegloop(*asked, *BUDGET, "--set", "guards.mine.most_deg=25", "--json").out)
    usual = json.loads(pegloop(*asked, "--json").out)
    cells = [{(cell["fault"], cell["guards"]): cell for cell in found["cells"]} for found in (tight, usual)]
    key = ("stuck-reading", "none")
    assert cells[0][key] == cells[1][key]
    key = ("stuck-reading", "pitch-ceiling")
    assert cells[0][key] == cells[1][key]
    key = ("stuck-reading", "tightening-budget")
    assert cells[0][key]["seconds_to_stop"] < cells[1][key]["seconds_to_stop"]
    said = " ".join(pegloop(*asked, *BUDGET, "--set", "guards.mine.most_deg=25").out.split())
    assert "tightening-budget: most_deg = 25: given in the rig file" in said


def test_hardware_of_the_series_does_not_make_a_given_limit_bad(pegloop: Command) -> None:
    """A series resistor lowers the stall current below a limit that was right without it."""
    asked = (*FAULTS, "--strings", "E2", "--guards", "motor-current,series-resistor", *current("most_a=0.8"))
    assert pegloop(*asked).code == 0


TOO_MUCH = {
    "run": ("run", "--string", "E4"),
    "compare": ("compare", "--rigs", 2, "--jobs", 1, "--quiet"),
    "sweep": ("sweep", "--rigs", 2, "--jobs", 1, "--quiet", "--vary", "strategies.coarse.step_deg=5:10:2"),
    "unknowns": ("unknowns", "--rigs", 2, "--jobs", 1, "--quiet"),
    "faults": FAULTS,
    "export": ("export",),
}


@pytest.mark.parametrize("name", TOO_MUCH)
def test_a_limit_beyond_breaking_is_one_clear_line_in_every_command(pegloop: Command, name: str) -> None:
    found = pegloop(*TOO_MUCH[name], *current("most_a=9"))
    assert (found.code, found.out) == (2, "")
    assert "guards.amps.most_a  found 9 A; 0." in found.err
    assert "allowed: below 0." in found.err
    assert found.err.count("\n") == 1


def test_check_tells_it_too(pegloop: Command) -> None:
    found = pegloop("check", *("--set", "motor.part='servo-standard'"), "default", *current("most_a=9"), "--json")
    assert found.code == 1
    assert "guards.amps.most_a" in json.loads(found.out)["hopeless"][0]


REFUSED = {
    ("faults", "plain-stepper", "--guards", "motor-current"): "--guards: found motor-current; the motor has no current",
    ("faults", "plain-stepper", "--show", "hang:motor-current"): "found motor-current; the motor has no current",
    (*FAULTS, *BUDGET, "--set", 'guards.b.kind="tightening-budget"'): "guards.b  two guards of kind tightening-budget",
    ("compare", "--session", *BUDGET): "leave out --session or [guards]",
    ("run", "--set", 'guards.a.kind="silense"'): "did you mean silence?",
}


@pytest.mark.parametrize("words", REFUSED)
def test_guards_that_cannot_be_had_are_refused_in_one_line(pegloop: Command, words) -> None:
    found = pegloop(*words)
    assert (found.code, found.out) == (2, "")
    assert REFUSED[words] in found.err
    assert found.err.count("\n") == 1


def test_all_guards_of_a_rig_that_lacks_some_still_run(pegloop: Command) -> None:
    asked = ("faults", "plain-stepper", "--strings", "E4", "--rigs", 2, "--jobs", 1, "--quiet", "--faults", "hang")
    found = pegloop(*asked)
    assert found.code == 0
    assert "not on this rig" in " ".join(found.out.split())


def test_parts_and_explain_know_every_kind_and_key(pegloop: Command) -> None:
    listed = pegloop("parts").out
    assert "[guards.NAME]" in listed
    assert "tightening-budget" in listed
    assert "[faults.NAME]" in listed
    shown = " ".join(pegloop("parts", "no-response").out.split())
    assert "no-response, a kind for [guards.NAME]" in shown
    assert "Wrong answers in a row that trip it." in shown
    assert "key of [guards], MotorCurrent" in " ".join(pegloop("explain", "most_a").out.split())
    assert "guard tripped (outcome)" in pegloop("explain", "guard", "tripped").out
