"""``pegloop sheet``: what it prints, what it hands over as JSON, what it refuses; bad values of drives in one line."""

import json
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest

from scenarios.library import ready_rigs
from sim.design.checks import BATTERY, CHECKS
from sim.design.facts import Facts
from tests.unit.cli.conftest import Command

DEAD = ("--set", "supply.voltage_v=0.6", "--set", "supply.resistance_ohm=3")  # not even the current without load


@pytest.mark.parametrize("rig", ready_rigs())
def test_every_ready_rig_has_a_sheet_of_80_columns(pegloop: Command, rig: str) -> None:
    answer = pegloop("sheet", rig)
    assert answer.code in (0, 1), answer.err
    assert [line for line in answer.out.splitlines() if len(line) > 80] == []
    assert ("does not fit on" in " ".join(answer.out.split())) <= (answer.code == 1)
    assert "no proof of safety" in " ".join(answer.out.split())
    rows = [line.split()[0] for line in answer.out.splitlines() if line and not line.startswith(("-", " "))]
    strings = [facts["string"] for facts in json.loads(pegloop("sheet", rig, "--json").out)["strings"]]
    assert all(rows.count(string) >= 5 for string in strings)


def test_json_has_the_numbers_of_the_table(pegloop: Command) -> None:
    data = json.loads(pegloop("sheet", "gear-motor", "--json").out)
    assert set(data["strings"][0]) == {field.name for field in fields(Facts)}
    assert {row["check"] for row in data["rows"]} == {*CHECKS, BATTERY}
    assert data["verdict"] == "tight"
    assert data["battery"]["tunings"] == pytest.approx(data["battery"]["usable_c"] / data["battery"]["tuning_c"])
    for row in data["rows"]:
        assert row["unit"] and row["verdict"] in ("fits", "tight", "does not fit")
        if row["have"] is not None:
            assert row["margin"] == pytest.approx(row["have"] / row["need"])
            assert row["worst_margin"] <= row["margin"]


def test_what_does_not_fit_is_said_with_the_smallest_change(pegloop: Command) -> None:
    answer = pegloop("sheet", "direct-drive")
    told = " ".join(answer.out.split())
    assert answer.code == 1
    assert "- tighten does not fit on all strings: tightening needs" in told
    assert "Smallest change: head.ratio =" in told


def test_a_supply_that_cannot_start_its_motor_is_told_in_one_line(pegloop: Command) -> None:
    checked = pegloop("check", "default", *DEAD)
    assert checked.code == 1
    hopeless = [line for line in checked.out.splitlines() if line.startswith("hopeless:")]
    assert len(hopeless) == 1 and "0.6 V behind 3 ohm" in hopeless[0]
    assert pegloop("run", *DEAD).code == 2
    assert pegloop("sheet", "default", *DEAD).code == 1


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('[motor]\npart = "stepper-plain"\nmicrosteps = 3\n', "motor.microsteps"),
        ("[head]\nbacklash_deg = -1\n", "head.backlash_deg"),
        ("[coupler]\nslop_deg = -2\n", "coupler.slop_deg"),
    ],
)
def test_impossible_drives_are_refused_in_one_line(
    pegloop: Command, rig: Callable[[str], Path], text: str, key: str
) -> None:
    answer = pegloop("sheet", rig(text))
    assert answer.code == 2
    assert answer.err.count("\n") == 1
    assert key in answer.err and "allowed" in answer.err
