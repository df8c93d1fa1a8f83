"""What is printed: within 80 columns, plain where asked for, valid JSON with exactly the promised keys."""

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.unit.cli.conftest import ROOT, Command

Words = tuple[object, ...]
QUICK: Words = ("compare", "--rigs", 3, "--tunings", 1, "--jobs", 1)
KEYS_OF_RUN = (
    "outcome", "advice", "in_tune", "final_error_cents", "plucks", "seconds", "overshoot_cents", "settling_s",
    "reversals", "turned_deg", "energy_j", "percent_of_breaking",
)  # fmt: skip
KEYS_OF_COMPARE = {"rigs", "seed", "specimens", "tunings", "strategies", "differences", "require", "assumed"}
KEYS_OF_STRATEGY = {
    "rig", "name", "runs", "in_tune", "specimens_meeting", "whole_instrument", "finished_not_in_tune", "plucks",
    "seconds", "overshoot_cents", "final_error_cents", "percent_of_breaking", "broken", "by_string",
}  # fmt: skip
COMMANDS: tuple[Words, ...] = (
    (), ("--help",), *((name, "--help") for name in ("new", "parts", "check", "sheet", "explain", "run", "compare")),
    ("parts",), ("parts", "worm-18"), ("parts", "violin"), ("check", "mandolin"), ("sheet", "ukulele"),
    ("explain", "backlash_deg"),
    ("run", "--string", "E2"), ("run", "theory"), QUICK, ("compare", "violin", "mandolin", *QUICK[1:]),
)  # fmt: skip


@pytest.mark.parametrize("words", COMMANDS)
def test_lines_fit_into_80_columns(pegloop: Command, words: Words) -> None:
    answer = pegloop(*words)
    assert answer.code == 0, answer.err
    assert [line for line in (answer.out + answer.err).splitlines() if len(line) > 80] == []


@pytest.mark.parametrize("words", [("run",), ("check", "default"), QUICK])
def test_pipes_and_no_color_get_no_escapes(pegloop: Command, monkeypatch: pytest.MonkeyPatch, words: Words) -> None:
    assert "\x1b" not in pegloop(*words).out
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b" not in pegloop(*words).out
    assert "\x1b" in pegloop(*words, "--colour", "always").out


@pytest.mark.parametrize("variable", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_a_terminal_without_colour_gets_none(variable: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    from sim.cli.screen import Screen

    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    for name in ("NO_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    assert Screen("auto", False).fancy(sys.stdout)
    for name, value in variable.items():
        monkeypatch.setenv(name, value)
    assert not Screen("auto", False).fancy(sys.stdout)


def test_json_of_run_has_exactly_its_keys(pegloop: Command) -> None:
    assert tuple(json.loads(pegloop("run", "--json").out)) == KEYS_OF_RUN
    several = json.loads(pegloop("run", "--json", "--strategy", "coarse,fine").out)["strategies"]
    assert [tuple(each) for each in several] == [("strategy", *KEYS_OF_RUN)] * 2


def test_json_of_compare_has_its_keys_and_nothing_infinite(pegloop: Command) -> None:
    found = json.loads(pegloop(*QUICK, "--json").out, parse_constant=lambda name: pytest.fail(name))
    assert set(found) == KEYS_OF_COMPARE
    assert [set(each) for each in found["strategies"]] == [KEYS_OF_STRATEGY] * 3


def test_what_is_no_number_becomes_null() -> None:
    from sim.cli.screen import clean

    assert clean({"a": float("nan"), "b": [float("inf"), 1.5], "c": True}) == {"a": None, "b": [None, 1.5], "c": True}


def test_hidden_truth_is_nowhere(pegloop: Command) -> None:
    shown, hidden = pegloop("run").out, pegloop("run", "--hide-truth").out
    assert "true" in shown
    assert "true\n" not in hidden.replace(" ", "")
    assert len(hidden.splitlines()[5].split()) == len(shown.splitlines()[5].split()) - 1
    told = json.loads(pegloop("run", "--hide-truth", "--json").out)
    truth = ("in_tune", "final_error_cents", "overshoot_cents", "settling_s")
    assert [told[name] for name in truth] == [None] * len(truth)
    assert told["plucks"] > 0


def test_quiet_leaves_stderr_empty(pegloop: Command) -> None:
    assert pegloop("run").err
    assert pegloop("run", "--quiet").err == ""


def test_a_comparison_says_what_must_be_said(pegloop: Command) -> None:
    told = " ".join(pegloop(*QUICK).out.split())
    assert "Intervals cover chance in this simulation, not errors of the model." in told
    assert "eye protection" in told
    assert "no proof of safety" in told
    assert "A4 = 440 Hz" in told
    assert "82.41" in told  # E2 in equal temperament at A4 = 440 Hz, ISO 16:1975
    assert "pegloop check default" in told


def test_narrow_encodings_and_closed_pipes_are_no_crash(process: Command) -> None:
    answer = process("check", "default", PYTHONIOENCODING="cp1252")
    assert (answer.code, answer.err) == (0, "")
    reader = subprocess.Popen(
        [sys.executable, "-m", "sim", "parts", "steel-string-guitar"], cwd=ROOT, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, env=os.environ,
    )  # fmt: skip
    with reader:
        assert reader.stdout and reader.stderr
        reader.stdout.close()
        assert reader.stderr.read() == b""
    assert reader.returncode == 0


def test_files_of_a_run(pegloop: Command, tmp_path: Path) -> None:
    assert pegloop("run", "--strategy", "fine", "--out", tmp_path).code == 0
    assert {path.name for path in tmp_path.iterdir()} == {"run.json", "path-fine.csv", "timeline.svg", "timeline.png"}
    assert pegloop("run", "--out", tmp_path).code == 2


def test_files_of_a_comparison(pegloop: Command, tmp_path: Path) -> None:
    folder = tmp_path / "results"
    assert pegloop(*QUICK, "--out", folder).code == 0
    names = {path.name for path in folder.iterdir()}
    assert {"journal.jsonl", "runs.csv", "summary.json", "manifest.json", "findings.md"} <= names
    page = (folder / "findings.md").read_text(encoding="utf-8")
    for title in ("Question", "Verdict", "Evidence", "Assumptions", "Limits of validity", "Cautions", "Repeat it"):
        assert f"## {title}\n" in page
    repeat = page.split("## Repeat it\n\n```\n")[1].split("\n```")[0]
    assert repeat.startswith("pegloop compare --rigs 3") and "--out" not in repeat
    assert pegloop(*shlex.split(repeat)[1:]).code == 0
    assert pegloop(*QUICK, "--out", folder).code == 2
    again = pegloop(*QUICK, "--out", folder, "--resume", "--json")
    assert again.code == 0
    assert json.loads(again.out) == json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert json.loads(pegloop("compare", folder, "--json").out)["strategies"] == json.loads(again.out)["strategies"]
