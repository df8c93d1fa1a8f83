"""``pegloop bench``: what to do in 80 columns, promised keys, a log that spreadsheets and programs read."""

import csv
import json
from pathlib import Path

import pytest

from tests.unit.cli.conftest import Command

COLUMNS = ["measurement", "string", "setting", "unit", "predicted_low", "predicted_high", "reading", "note"]
SETTLED = (
    "coupler.slop_deg=3", "motor.output_slop_deg=1", "head.worm_friction=0.15", "head.lead_angle_deg=5",
    "head.post_radius_mm=3", "head.backlash_deg=1", "motor.stall_torque_ref_nm=1.1", "motor.speed_ref_deg_s=400",
    "motor.travel_deg=180", "motor.stall_current_a=2.5", "supply.resistance_ohm=0.2", "ear.pluck_cents=0.7",
    "ear.reading_cents=0.3", "ear.wander_cents=0", "nut.part=free", "body.part=rigid",
    "strings.E4.axial_stiffness_kn=10", "strings.E4.total_length_mm=750",
)  # fmt: skip


def log(folder: Path) -> list[dict[str, str]]:
    with (folder / "bench.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("words", [(), ("mandolin",), ("violin", "--trial", 3)])
def test_it_fits_80_columns_and_warns(pegloop: Command, words: tuple[object, ...]) -> None:
    answer = pegloop("bench", *words)
    assert answer.code == 0, answer.err
    assert [line for line in (answer.out + answer.err).splitlines() if len(line) > 80] == []
    told = " ".join(answer.out.split())
    assert "eye protection" in told
    assert "A simulation is no proof of safety." in told
    assert "--out DIR" in answer.err


def test_json_has_the_promised_keys(pegloop: Command) -> None:
    answer = pegloop("bench", "ukulele", "--json", "--seed", 2)
    found = json.loads(answer.out, parse_constant=lambda name: pytest.fail(name))
    assert (answer.code, tuple(found)) == (0, ("rig", "seed", "measurements"))
    for each in found["measurements"]:
        assert tuple(each) == ("name", "unit", "setting", "do", "caution", "settles", "bands")
        assert all(tuple(band) == ("string", "low", "high", "reading") for band in each["bands"])
    assert found["measurements"][0]["setting"] == {"turn_deg": 360.0}


def test_the_log_waits_for_readings_and_is_never_overwritten(pegloop: Command, tmp_path: Path) -> None:
    folder = tmp_path / "log"
    assert pegloop("bench", "--strings", "E2,A2", "--out", folder).code == 0
    rows = log(folder)
    assert list(rows[0]) == COLUMNS
    assert [row["string"] for row in rows if row["measurement"] == "knob-turn"] == ["E2", "A2"]
    assert all(row["reading"] == row["note"] == "" for row in rows)
    assert all(float(row["predicted_low"]) <= float(row["predicted_high"]) for row in rows)
    before = (folder / "bench.csv").read_bytes()
    again = pegloop("bench", "--out", folder)
    assert (again.code, again.out) == (2, "")
    assert "not empty" in again.err
    assert (folder / "bench.csv").read_bytes() == before


def test_a_trial_fills_the_log(pegloop: Command, tmp_path: Path) -> None:
    assert pegloop("bench", "theory", "--trial", 4, "--out", tmp_path / "log").code == 0
    rows = log(tmp_path / "log")
    assert all(float(row["reading"]) > 0.0 and row["note"] == "simulated machine 4" for row in rows)


def test_nothing_open_is_said(pegloop: Command) -> None:
    changes = [word for change in SETTLED for word in ("--set", change)]
    answer = pegloop("bench", "--strings", "E4", *changes)
    assert answer.code == 0, answer.err
    assert "leaves nothing open" in answer.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--strings", "H2"), "unknown string 'H2'"),
        (("--trial", "-1"), "expected a whole number"),
        (("nowhere",), "nowhere"),
        (("--set", "coupler.slop_deg=-1"), "coupler.slop_deg"),
    ],
)
def test_bad_input_is_one_line(pegloop: Command, words: tuple[str, ...], said: str) -> None:
    answer = pegloop("bench", *words)
    assert (answer.code, answer.out) == (2, "")
    assert said in answer.err
    assert len(answer.err.splitlines()) == 1
