"""``pegloop sheet --theory``: 80 columns, JSON, the page, what is refused, and the simulation beside it in time."""

import json
import time
from pathlib import Path

import pytest

from scenarios.library import ready_rigs
from sim.design.theory_verify import RUNS
from tests.unit.cli.conftest import Command


@pytest.mark.parametrize("rig", ready_rigs())
def test_theory_of_every_ready_rig_fits_into_80_columns(pegloop: Command, rig: str) -> None:
    plain, answer = pegloop("sheet", rig), pegloop("sheet", rig, "--theory")
    assert answer.code == plain.code, answer.err
    assert [line for line in answer.out.splitlines() if len(line) > 80] == []
    assert answer.out.count(": what it predicts") == answer.out.count(": the loop; take:") > 0
    assert "Theory leaves out noise, friction, play" in " ".join(answer.out.split())
    assert "Theory" not in plain.out


def test_json_has_every_strategy_and_string(pegloop: Command) -> None:
    data = json.loads(pegloop("sheet", "default", "--theory", "--json").out)["theory"]
    names = [(each["strategy"], each["string"]) for each in data["strategies"]]
    assert len(set(names)) == len(names) == 3 * 6
    for each in data["strategies"]:
        assert each["cents_per_deg"]["low"] < each["cents_per_deg"]["middle"] < each["cents_per_deg"]["high"]
        assert each["linear_loop"]["sample_s"] > 0.0
        assert (each["linear_loop"]["open_loop"] is None) is (each["kind"] == "bang-bang")
    assert data["without_theory"] == []
    assert "theory" not in json.loads(pegloop("sheet", "default", "--json").out)


def test_simulation_beside_theory(pegloop: Command) -> None:
    """The default rig: large steps on E2 hunt, and the table says why not as predicted; in at most 30 s."""
    began_s = time.process_time()
    answer = pegloop("sheet", "default", "--theory", "--verify")
    assert time.process_time() - began_s < 30.0
    assert [line for line in answer.out.splitlines() if len(line) > 80] == []
    assert answer.out.count(f"predicted / simulated, {RUNS} tunings") == 3
    table = answer.out[answer.out.index("coarse: predicted / simulated") :].splitlines()
    row = next(line for line in table if line.startswith("E2"))
    assert "*" in row and row.split()[-1] in ("play", "friction", "noise")
    assert "Theory takes gain_deg_per_cent" in " ".join(answer.out.split())


def test_checks_in_json_say_what_differs_and_why(pegloop: Command) -> None:
    data = json.loads(pegloop("sheet", "theory", "--theory", "--verify", "--json").out)["theory"]
    assert [(check["strategy"], check["differs"], check["why"]) for check in data["checks"]] == [
        ("relay", [], []), ("half", [], []),
    ]  # fmt: skip
    assert data["checks"][0]["predicted"]["plucks"] == data["checks"][0]["simulated"]["plucks"]


def test_verify_alone_is_refused(pegloop: Command) -> None:
    answer = pegloop("sheet", "default", "--verify")
    assert (answer.code, answer.err.count("\n")) == (2, 1)
    assert "--theory" in answer.err


def test_a_rig_that_cannot_run_has_theory_but_no_simulation(pegloop: Command) -> None:
    dead = ("--set", "supply.voltage_v=0.6", "--set", "supply.resistance_ohm=3")
    assert "what it predicts" in pegloop("sheet", "default", "--theory", *dead).out
    answer = pegloop("sheet", "default", "--theory", "--verify", *dead)
    assert (answer.code, answer.err.count("\n")) == (2, 1)
    assert "cannot be run" in answer.err


def test_the_page_has_a_section_of_theory(pegloop: Command, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    pegloop("sheet", "theory", "--theory", "--out", folder)
    page = (folder / "sheet.md").read_text("utf-8")
    assert "## Theory" in page and "**Theory of relay: what it predicts**" in page
    assert "theory" in json.loads((folder / "sheet.json").read_text("utf-8"))


def test_theory_says_nothing_of_a_kind_of_your_own(pegloop: Command, tmp_path: Path) -> None:
    path = tmp_path / "own.py"
    path.write_text(
        '"""One of my own."""\nfrom controllers.bang_bang import BangBang\n\n\n'
        'class Mine(BangBang):\n    """Mine."""\n',
        "utf-8",
    )
    own = ("--controller", f"mine={path}:Mine", "--set", 'strategies.own={kind="mine",step_deg=5,deadband_cents=2}')
    answer = pegloop("sheet", "theory", "--theory", *own)
    assert "own: theory says nothing of its kind of law." in " ".join(answer.out.split())
