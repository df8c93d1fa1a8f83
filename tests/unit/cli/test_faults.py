"""``pegloop faults`` from the outside: the matrix, its JSON, its folder, refusals."""

import csv
import json
from pathlib import Path

import pytest

from tests.unit.cli.conftest import Command, refuses

QUICK = ("faults", "--strings", "E4", "--rigs", 3, "--jobs", 1, "--quiet")
TWO = (*QUICK, "--faults", "stuck-reading,corroded", "--guards", "tightening-budget,motor-current,slip-clutch")
REFUSED = {
    ("faults", "--faults", "octave-lo"): "did you mean octave-low?",
    ("faults", "--faults", "hang+octave-lo"): "did you mean octave-low?",
    ("faults", "--guards", "silense"): "did you mean silence?",
    ("faults", "--strategies", "fyne"): "did you mean fine?",
    ("faults", "--strings", "E9"): "no string is named E9",
    ("faults", "--show", "hang"): "allowed: FAULT:GUARD",
    ("faults", "--show", "hang:nobody"): "no guard is named nobody",
    ("faults", "--resume"): "--out DIR",
    ("faults", "--rare", "--show", "hang:silence"): "--show: found beside --rare",
    ("faults", "--rare", "--guards", "silence"): "--guards: found beside --rare",
}


@pytest.mark.parametrize("words", REFUSED)
def test_bad_usage_is_one_clear_line(pegloop: Command, words) -> None:
    found = pegloop(*words)
    assert refuses(found, REFUSED[words]), found


def test_the_matrix_fits_a_terminal_and_says_what_it_is(pegloop: Command) -> None:
    found = pegloop(*TWO)
    words = " ".join(found.out.split())
    assert found.code == 0
    for part in (
        "corroded",
        "Build first",
        "ISO 12100",
        "eye protection",
        "no proof of safety",
        "derived from the rig",
    ):
        assert part in words
    assert max(map(len, found.out.splitlines())) <= 80


def test_json_has_a_cell_for_every_fault_and_set_of_guards(pegloop: Command) -> None:
    found = json.loads(pegloop(*TWO, "--json").out)
    named = {cell["guards"] for cell in found["cells"]}
    assert {"none", "all", "hardware", "tightening-budget", "all-but:tightening-budget"} <= named
    assert {cell["fault"] for cell in found["cells"]} == {"none", "stuck-reading", "corroded"}
    assert set(found["cells"][0]) == {
        "fault", "guards", "string", "strategy", "runs", "broken", "stopped_by", "unnoticed", "percent_of_breaking",
        "readings_to_stop", "seconds_to_stop", "degrees_to_stop", "left_cents", "plucks", "plucks_to_stop",
    }  # fmt: skip
    assert set(found) >= {"rig", "seed", "specimens", "cells", "coverage", "false_trips", "residual"}
    assert found["specimens"] == 3


def test_a_folder_resumes_to_the_same_bytes_and_refuses_other_faults(pegloop: Command, tmp_path: Path) -> None:
    whole, torn = tmp_path / "whole", tmp_path / "torn"
    assert pegloop(*TWO, "--out", whole).code == 0
    assert pegloop(*TWO, "--out", torn).code == 0
    journal = torn / "journal.jsonl"
    journal.write_bytes(journal.read_bytes()[: journal.stat().st_size // 2])
    assert pegloop(*TWO, "--out", torn, "--resume").code == 0
    for name in ("runs.csv", "summary.json", "fmea.csv", "fault_matrix.svg"):
        assert (torn / name).read_bytes() == (whole / name).read_bytes()
    other = pegloop(*QUICK, "--faults", "hang", "--out", torn, "--resume")
    assert other.code == 2
    assert "another rig" in other.err


def test_the_table_for_a_review_has_a_row_for_each_fault_and_leaves_severity_open(
    pegloop: Command, tmp_path: Path
) -> None:
    pegloop(*TWO, "--out", tmp_path / "a")
    with (tmp_path / "a" / "fmea.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert [row["failure mode"] for row in rows] == ["stuck-reading", "corroded"]
    assert all(row["severity"] == "" for row in rows)
    assert all(row["scenario"].startswith("pegloop faults default --faults") for row in rows)


def test_one_fault_and_guard_are_told_string_by_string(pegloop: Command) -> None:
    found = pegloop(*QUICK, "--show", "stuck-reading:tightening-budget")
    assert found.code == 0
    assert "tightening-budget" in found.out
    assert "Build first" not in found.out


def test_rare_breaking_says_on_what_it_is_conditional(pegloop: Command) -> None:
    found = pegloop(
        "faults", "--rare", "--strings", "E4", "--strategies", "proportional", "--rigs", 5, "--jobs", 1, "--quiet"
    )
    words = " ".join(found.out.split())
    assert found.code == 0
    assert "Conditional on the noise model" in words
    assert "E4 by proportional" in words
    assert max(map(len, found.out.splitlines())) <= 80


def test_one_fault_against_one_guard_has_a_timeline_of_its_worst_run(pegloop: Command, tmp_path: Path) -> None:
    folder = tmp_path / "shown"
    found = pegloop(*QUICK, "--show", "nicked:motor-current", "--out", folder)
    assert found.code == 0
    words = (folder / "timeline.svg").read_text("utf-8")
    assert "unguarded" in words
    assert "with motor-current" in words
    assert (folder / "timeline.png").stat().st_size > 10000


def test_several_faults_at_once_are_joined_by_a_plus(pegloop: Command) -> None:
    found = json.loads(pegloop(*QUICK, "--faults", "nicked,nicked+octave-high", "--guards", "silence", "--json").out)
    assert {cell["fault"] for cell in found["cells"]} == {"none", "nicked", "nicked+octave-high"}
    assert [one["fault"] for one in found["worst"]] == ["none", "nicked", "nicked+octave-high"]


@pytest.mark.parametrize(
    "changes, told",
    {
        ("from_s=30", "until_s=3"): "from_s is 30, after until_s, 3; allowed: from_s <= until_s",
        ("from_s=1e9",): "allowed: at least 0, at most 100000",
        ("room_deg=1e9",): "allowed: at least 0, at most 36000",
    }.items(),
)
def test_occasions_that_cannot_be_are_one_clear_line(pegloop: Command, changes, told: str) -> None:
    """The contract of bad input: key, found, allowed; a fault cannot end before it begins."""
    settings = ['faults.a.kind="travel-end"', *(f"faults.a.{change}" for change in changes)]
    found = pegloop("check", "default", *(word for setting in settings for word in ("--set", setting)))
    assert found.code == 2
    assert "faults.a" in found.err
    assert told in found.err
    assert found.err.count("\n") == 1


def test_a_folder_of_faults_serves_no_other_series(pegloop: Command, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert pegloop(*TWO, "--out", out).code == 0
    for words, told in (
        (("compare", out), "holds runs with faults; allowed: a folder of compare"),
        (("compare", "--out", out, "--resume"), "another kind of series (runs with faults there, runs here)"),
    ):
        found = pegloop(*words)
        assert found.code == 2
        assert told in found.err
        assert found.err.count("\n") == 1


def test_rare_breaking_is_written_and_never_over_something(pegloop: Command, tmp_path: Path) -> None:
    """The file holds what ``--json`` prints; a folder with something in it is refused."""
    words = ("faults", "--rare", "--strings", "E4", "--strategies", "fine", "--rigs", 2, "--jobs", 1, "--quiet")
    printed = json.loads(pegloop(*words, "--json", "--out", tmp_path / "a").out)
    assert json.loads((tmp_path / "a" / "rare.json").read_text()) == printed
    assert {one["string"] for one in printed["found"]} == {"E4"}
    assert [each["proposal"] for each in printed["found"][0]["estimates"]] == ["plain", "shift", "scale"]
    again = pegloop(*words, "--out", tmp_path / "a")
    assert again.code == 2
    assert "is not empty" in again.err


def test_the_page_for_a_reviewer_traces_what_it_says_to_the_cells(pegloop: Command, tmp_path: Path) -> None:
    """Counts of the page are sums over the cells of the JSON beside it."""
    folder = tmp_path / "doubts"
    words = ("--faults", "wrong-material", "--guards", "motor-current,slip-clutch")
    assert pegloop(*QUICK, *words, "--out", folder).code == 0
    page = (folder / "findings.md").read_text("utf-8")
    cells = json.loads((folder / "summary.json").read_text("utf-8"))["cells"]
    counted = {cell["guards"]: cell["broken"]["count"] for cell in cells if cell["fault"] == "wrong-material"}
    assert counted["none"] > 0
    row = next(line for line in page.split("**Runs in which a string broke**")[1].splitlines() if "wrong-mat" in line)
    told = [word.strip() for word in row.split("|")[2:5]]
    assert told == [str(counted[name]) for name in ("none", "hardware", "all")]
    for part in ("Question", "Verdict", "Limits of the guards", "Severity:", "ISO 12100", "no proof of safety"):
        assert part in page
    assert "pegloop faults" in page.split("## Repeat it")[1]
