"""``pegloop sweep`` and ``pegloop unknowns`` from the outside: answers, folders, refusals."""

import json
from pathlib import Path

import pytest

from sim.cli.loading import repeating
from tests.unit.cli.conftest import Command, refuses

STEP = "strategies.relay.step_deg"
QUICK = ("sweep", "theory", "--rigs", 4, "--tunings", 2, "--jobs", 1)
SWEEP = (*QUICK, "--vary", f"{STEP}=2:10:5")
FILES = ("runs.csv", "summary.json", "findings.md", "sweep.svg")

REFUSED = {
    ("sweep",): "--vary",
    ("sweep", "--vary", "head.ratoi=1:2:3"): "did you mean head.ratio?",
    ("sweep", "--vary", "head.ratio=5:5:3"): "the range is empty",
    ("sweep", "--vary", "head.ratio=0:10:3:log"): "numbers above 0",
    ("sweep", "--vary", "head.ratio=1:10:1"): "N = 1",
    ("sweep", "--vary", "head.ratio=0:10:3"): "--vary head.ratio=0.0  head.ratio  found 0.0; allowed: at least 1",
    ("sweep", "--vary", "head.ratio=10:20:2", "--set", "head.ratio=-1"): "--set head.ratio=-1",
    ("sweep", "--vary", "head.ratio=10:20:2", "--set", "require.plucks=1"): "no setting can meet require.plucks = 1",
    ("sweep", "--vary", "head.ratio=10:20:2", "--set", "require.percent_of_breaking=10"): "when it is in tune",
    ("sweep", "--vary", "head.ratio=10:20:2", "--until", "2"): "a share between 0 and 1",
    ("sweep", "--vary", "head.ratio=10:20:2", "--strategies", "fyne"): "no strategy is named fyne",
    ("sweep", "--vary", "head.ratio=10:20:2", "--resume"): "--out DIR",
    ("sweep", "--vary", "head.ratio=10:20", "--best", "beauty"): "allowed: in_tune, plucks",
    ("unknowns", "--vary", "head.ratoi=1:2"): "did you mean head.ratio?",
    ("unknowns", "--vary", "task.tolerance_cents=1:2"): "one value is needed here",
    ("unknowns", "--strategies", "fyne"): "did you mean fine?",
    ("unknowns", "--resume"): "--out DIR",
    ("sweep", "--vary", "head.ratio=10:20:2", "--jobs", "2", "--cluster", "x"): "--cluster: not allowed with",
}


@pytest.mark.parametrize("words", REFUSED)
def test_bad_usage_is_one_clear_line(pegloop: Command, words) -> None:
    found = pegloop(*words)
    assert refuses(found, REFUSED[words]), found


def test_a_sweep_tells_what_to_take_and_how_far_it_may_be_off(pegloop: Command) -> None:
    found = pegloop(*SWEEP)
    assert found.code == 0
    for words in ("take step_deg =", "may lie anywhere from", "the library's usual", "no proof of safety"):
        assert words in " ".join(found.out.split())
    assert max(map(len, found.out.splitlines())) <= 80


def test_json_holds_every_setting_and_the_answer(pegloop: Command) -> None:
    found = json.loads(pegloop(*SWEEP, "--json", "--quiet").out)
    assert [point["values"] for point in found["points"]] == [[2.0], [4.0], [6.0], [8.0], [10.0]]
    assert found["axes"] == [{"key": STEP, "unit": "deg", "log": False, "values": [2.0, 4.0, 6.0, 8.0, 10.0]}]
    assert found["answers"][0]["all"]["recommended"][0] in found["axes"][0]["values"]


def test_where_nothing_meets_it_says_the_nearest_and_exits_with_1(pegloop: Command) -> None:
    found = pegloop(*QUICK, "--vary", f"{STEP}=40:80:3")
    assert found.code == 1
    assert "no value tried meets what is required; nearest is step_deg =" in " ".join(found.out.split())


def test_a_key_that_changes_nothing_is_said_before_running(pegloop: Command) -> None:
    found = pegloop(*QUICK, "--vary", "ear.wild_cents=100:600:2", "--strategies", "half")
    assert "ear.wild_cents: changed no run in a first trial" in found.err


def test_two_keys_make_a_map(pegloop: Command, tmp_path: Path) -> None:
    found = pegloop(*QUICK, "--vary", f"{STEP}=2:8:3", "--vary", "strategies.relay.deadband_cents=1:3:2",
                    "--out", tmp_path / "a")  # fmt: skip
    assert "% in tune over deadband_cents" in found.out
    assert (tmp_path / "a" / "map_relay.svg").exists()


def test_a_torn_sweep_resumes_to_the_same_bytes_and_refuses_another_seed(pegloop: Command, tmp_path: Path) -> None:
    pegloop(*SWEEP, "--out", tmp_path / "a")
    pegloop(*SWEEP, "--out", tmp_path / "b")
    journal = tmp_path / "b" / "journal.jsonl"
    journal.write_bytes(journal.read_bytes()[:3000])
    for name in FILES:
        (tmp_path / "b" / name).unlink()
    assert pegloop(*SWEEP, "--out", tmp_path / "b", "--resume").code == 0
    for name in FILES:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name
    other = pegloop(*SWEEP, "--out", tmp_path / "b", "--resume", "--seed", 2)
    assert other.code == 2
    assert "another seed" in other.err
    wider = pegloop(*QUICK, "--vary", f"{STEP}=2:12:5", "--out", tmp_path / "b", "--resume")
    assert "another rig" in wider.err


def test_until_adds_machines_until_narrow_and_resumes_with_as_many(pegloop: Command, tmp_path: Path) -> None:
    words = (*QUICK, "--vary", f"{STEP}=4:30:2", "--until", "0.4", "--out", tmp_path / "a")
    first = json.loads(pegloop(*words, "--json", "--quiet").out)
    assert first["until"] == {"width": 0.4, "reached": True}
    assert first["specimens"] > 4
    assert max(point["in_tune"]["high"] - point["in_tune"]["low"] for point in first["points"]) <= 0.4
    assert json.loads(pegloop(*words, "--json", "--quiet", "--resume").out) == first


def test_a_search_states_its_budget_and_reports_fresh_seeds(pegloop: Command, tmp_path: Path) -> None:
    words = ("sweep", "theory", "--vary", f"{STEP}=3:30:log", "--best", "plucks", "--rigs", 8, "--tunings", 2,
             "--jobs", 1, "--set", "instrument.start_cents={low=-60,high=60}")  # fmt: skip
    found = pegloop(*words, "--out", tmp_path / "a")
    assert "16 settings in the first round" in found.err
    assert "at most" in found.err
    plain = json.loads(pegloop(*words, "--json", "--quiet").out)
    assert [(one["settings"], one["specimens"]) for one in plain["rounds"]] == [(16, 1), (8, 2), (4, 4), (2, 8)]
    assert plain["searched_with_seed"] == 1
    alone = json.loads(
        pegloop("compare", "theory", "--strategies", "relay", "--rigs", 8, "--tunings", 2, "--seed", 1_000_004,
                "--set", "instrument.start_cents={low=-60,high=60}", "--set", f"{STEP}={plain['values'][0]}",
                "--json", "--quiet").out)  # fmt: skip
    assert plain["in_tune"] == alone["strategies"][0]["in_tune"]
    assert plain["plucks"] == alone["strategies"][0]["plucks"]
    again = pegloop(*words, "--out", tmp_path / "a", "--resume")
    assert again.out == found.out


def test_unknowns_say_what_matters_and_where_to_measure(pegloop: Command, tmp_path: Path) -> None:
    found = pegloop("unknowns", "theory", "--strategies", "half", "--rigs", 16, "--jobs", 1, "--out", tmp_path / "a",
                    "--vary", "strings.E4.axial_stiffness_kn=8:25", "--vary", "coupler.slop_deg=0:20")  # fmt: skip
    assert found.code == 0
    assert "bench: knob-turn" in found.out
    assert "no proof of safety" in " ".join(found.out.split())
    assert max(map(len, found.out.splitlines())) <= 80
    plain = json.loads((tmp_path / "a" / "summary.json").read_text())
    keys = {one["key"] for one in plain["strategies"][0]["measures"]["final_error_cents"]}
    assert keys == {"strings.*.axial_stiffness_kn", "coupler.slop_deg", "chance, and all else"}


UNKNOWNS = ("unknowns", "theory", "--strategies", "half", "--rigs", 4, "--jobs", 1, "--quiet")


def test_torn_unknowns_resume_to_the_same_bytes_and_refuse_another_study(pegloop: Command, tmp_path: Path) -> None:
    whole, torn = tmp_path / "a", tmp_path / "b"
    for folder in (whole, torn):
        assert pegloop(*UNKNOWNS, "--out", folder).code == 0
    names = [file.name for file in whole.iterdir() if file.name not in ("journal.jsonl", "manifest.json")]
    assert {"runs.csv", "summary.json", "findings.md", "unknowns_half.svg"} <= set(names)
    journal = torn / "journal.jsonl"
    journal.write_bytes(journal.read_bytes()[:3000])
    for name in names:
        (torn / name).unlink()
    assert "is not empty; resume it" in pegloop(*UNKNOWNS, "--out", torn).err
    assert pegloop(*UNKNOWNS, "--out", torn, "--resume").code == 0
    for name in names:
        assert (whole / name).read_bytes() == (torn / name).read_bytes(), name
    for words, told in (
        (("--seed", 2), "another seed (1 there, 2 here)"),
        (("--strategies", "relay"), "another rig"),
        (("--rigs", 2), "more than the"),
    ):
        refused = pegloop(*UNKNOWNS, *words, "--out", torn, "--resume")
        assert (refused.code, refused.err.count("\n")) == (2, 1)
        assert told in refused.err


def test_more_machines_only_add_to_the_study(pegloop: Command, tmp_path: Path) -> None:
    pegloop(*UNKNOWNS, "--rigs", 2, "--out", tmp_path / "a")
    held = (tmp_path / "a" / "journal.jsonl").read_bytes()
    more = pegloop(*UNKNOWNS, "--json", "--out", tmp_path / "a", "--resume")
    assert more.out == pegloop(*UNKNOWNS, "--json").out
    assert (tmp_path / "a" / "journal.jsonl").read_bytes().startswith(held)


def test_crossed_machines_are_no_rig_of_a_comparison_nor_shared_with_one(pegloop: Command, tmp_path: Path) -> None:
    pegloop(*UNKNOWNS, "--out", tmp_path / "a")
    compared = pegloop("compare", tmp_path / "a")
    assert (compared.code, compared.err.count("\n")) == (2, 1)
    assert "whose machines are crossed" in compared.err
    same = ("theory", "--strategies", "half", "--tunings", 1, "--rigs", 500, "--out", tmp_path / "a", "--resume")
    shared = pegloop("compare", *same)
    assert (shared.code, shared.err.count("\n")) == (2, 1)
    assert "another choice of keys" in shared.err


def test_findings_repeat_what_was_asked_and_not_where_it_ran() -> None:
    words = ["sweep", "--vary", "head.ratio=10:20:2", "--jobs", "2", "--cluster=tcp://a:1", "--out", "d", "--resume"]
    assert repeating(words) == "pegloop sweep --vary head.ratio=10:20:2"
