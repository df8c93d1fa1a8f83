"""What is handed to firmware: whole numbers, a reference in C that replays them, vectors that catch every change."""

import json
import math
import random
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controllers import CONTROLLERS
from models.messages import Reading, Task
from scenarios.load import load_rig
from sim.build import build
from sim.cli import main
from sim.export.acceptance import most_beyond, page, plan_of_acceptance
from sim.export.constants import MOST, Constants, constants_of, rounded_half_away, whole
from sim.export.vectors import ANSWERS, UNITS, vectors
from sim.seeds import Streams

needs_cc = pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler")
CONTROL = ("deadband_millicents", "largest_move_angle_millideg", "finish_tolerance_millicents", "finish_readings",
           "retry_most_missed")  # fmt: skip


def series(plucks: float = 8.0) -> dict[str, Any]:
    """Return an invented summary of a comparison with one strategy."""
    spent = {"plucks": {"median": plucks, "p95": 2 * plucks}, "seconds": {"median": 10.0, "p95": None}}
    in_tune = {"count": 360, "of": 360, "share": 1.0, "low": 0.95, "high": 1.0}
    one = {"rig": "invented", "name": "slow", "in_tune": in_tune, "by_string": {"E2": spent}, **spent}
    return {"specimens": 60, "seed": 1, "strategies": [one]}


@pytest.mark.parametrize(("share", "tunings"), [(0.95, 59), (0.9, 29), (0.999, 2995)])
def test_tunings_without_failure_show_a_share(share: float, tunings: int) -> None:
    """Success-run theorem, ln 0.05 / ln share: 59 for 95 % is widely printed; 2995 for 99.9 % is the example of the
    manual of the Python package reliability, "Sample size required for no failures".
    """
    plan = plan_of_acceptance(share, series())
    assert plan["tunings_without_failure"] == tunings
    assert share**tunings <= 0.05 < share ** (tunings - 1)


def test_more_than_six_of_59_beyond_a_95th_percentile_are_no_accident() -> None:
    """Independent arithmetic: sum of C(59, k) 0.05^k 0.95^(59-k) over k <= 6 is the first above 0.95."""

    def up_to(most: int) -> float:
        return sum(math.comb(59, k) * 0.05**k * 0.95 ** (59 - k) for k in range(most + 1))

    assert most_beyond(59) == 6
    assert up_to(5) < 0.95 <= up_to(6)


def test_the_plan_says_what_to_count_what_to_expect_and_what_it_does_not_prove() -> None:
    text = page(plan_of_acceptance(0.95, series()), "Mind the string. A simulation is no proof of safety.")
    for words in ("59 tunings in a row", "at least 95 %", "| E2 | 8 / 16 | 10 / beyond limit |", "Up to 6 of the 59",
                  "begin to count anew", "`date,string,", "no proof of safety"):  # fmt: skip
        assert words in text


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_no_number_of_tunings_shows_that_all_succeed(share: float) -> None:
    with pytest.raises(ValueError, match="above 0 and below 1"):
        plan_of_acceptance(share, series())


@given(value=st.integers(-(10**9), 10**9))
def test_halves_go_away_from_zero(value: int) -> None:
    assert rounded_half_away(value + 0.5) == (value + 1 if value >= 0 else value)
    assert rounded_half_away(value / 10.0) == int(math.copysign((abs(value) + 5) // 10, value))


def test_units_stand_in_the_names() -> None:
    assert whole("step_deg", 2.5) == (("step_millideg", 2500), 2.5)
    assert whole("gain_deg_per_cent", 0.6) == (("gain_microdeg_per_cent", 600000), 0.6)
    assert whole("first_gain", 0.25) == (("first_gain_millionths", 250000), 0.25)
    assert whole("readings", 3) == (("readings", 3), 3)
    assert whole("angle_deg", math.inf) == (("angle_millideg", MOST), math.inf)
    with pytest.raises(ValueError, match="32 bits"):
        whole("step_deg", 3e6)


def test_a_constant_is_what_the_controller_then_has() -> None:
    """A gain that six digits do not hold is rounded in both."""
    scenario = load_rig("default", changes=["strategies.proportional.gain_deg_per_cent=0.12345678"])
    strategy = next(each for each in scenario.strategies if each.name == "proportional")
    found = constants_of(scenario, strategy, "E2")
    wrapped: Any = found.plan.controller
    law = wrapped.inner.inner.inner
    assert law.gain_deg_per_cent == 0.123457
    assert next(each.value for each in found.numbers if each.name == "gain_microdeg_per_cent") == 123457


def of_kind(kind: str, string: str, *changes: str) -> tuple[Constants, Task]:
    scenario = load_rig("default", changes=[f'strategies.mine.kind="{kind}"', *changes])
    strategy = next(each for each in scenario.strategies if each.name == "mine")
    return constants_of(scenario, strategy, string), scenario.task


TURNING = [kind for kind in CONTROLLERS if not kind.endswith("spin")]


@pytest.mark.parametrize("kind", TURNING)
def test_a_program_in_single_precision_agrees_within_the_stated_units(kind: str) -> None:
    """A reading in single precision makes the law compute in it: another program's arithmetic, as firmware has it."""
    constants, task = of_kind(kind, "G3", "strategies.mine.take_up_deg=3.0", "strategies.mine.largest_move_deg=90")
    found = vectors(constants, task, 2000, 1)
    assert len(found) == 2000 and {vector.answer for vector in found} >= {0, 1, 4}
    memory: Any = None
    for vector in found:
        memory = constants.plan.controller.start(task) if vector.start else memory
        cents = np.float32(vector.error_millicents / 1000.0) if vector.heard else None
        seen: Any = Reading(None, cents, 1.0, 0.0, 0.1, bool(vector.moving), 1)  # type: ignore[arg-type]
        command, memory = constants.plan.controller.update(memory, seen)
        angle = float(getattr(command, "angle_deg", 0.0))
        assert ANSWERS[type(command)] == vector.answer, vector
        assert abs(rounded_half_away(1000.0 * angle) - vector.amount) <= UNITS, vector


def test_reserves_are_those_of_the_worst_string() -> None:
    """Independent arithmetic: no specimen of the rig breaks nearer to its target than the constant says."""
    scenario = load_rig("default")
    constants = constants_of(scenario, scenario.strategies[0], "G3")
    least = next(each.value for each in constants.numbers if each.name == "reserve_millicents") / 1000.0
    built = [build(scenario, "G3", Streams(1), specimen).chain.string for specimen in range(40)]
    assert 0.0 < least <= min(string.reserve_cents() for string in built)


def handed(folder: Path, strategy: str, *changes: str) -> Path:
    """Return a folder with what is handed over, and the program that replays it."""
    words = [word for change in changes for word in ("--set", change)]
    assert main(["export", "--strategy", strategy, "--out", str(folder), "--quiet", *words]) == 0
    return folder


def replayed(folder: Path) -> tuple[int, str]:
    """Compile and replay; return the exit code and what was said."""
    compiled = subprocess.run(
        ["cc", "-std=c99", "-Wall", "-Werror", "-O2", "reference.c", "replay.c", "-o", "replay"],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert compiled.returncode == 0, compiled.stderr
    with (folder / "vectors.csv").open() as vectors_file:
        run = subprocess.run(["./replay"], cwd=folder, stdin=vectors_file, capture_output=True, text=True, check=False)
    return run.returncode, run.stdout


@needs_cc
@pytest.mark.parametrize(("strategy", "own"), [("coarse", "step_millideg"), ("proportional", "gain_microdeg_per_cent")])
def test_the_reference_replays_all_vectors_and_no_altered_constant(strategy: str, own: str, tmp_path: Path) -> None:
    gain = "strategies.proportional.gain_deg_per_cent=0.333333"  # rests in every digit
    band = f"strategies.{strategy}.deadband_cents=3"  # that of the tolerance: wider or narrower, one of both is idle
    clamp = "strategies.coarse.largest_move_deg=20"  # that of the step
    folder = handed(tmp_path / "out", strategy, gain, band, clamp)
    assert replayed(folder) == (0, "10000 of 10000 vectors agree\n")
    good = (folder / "constants.h").read_text()
    for name in (own, *CONTROL):
        first = re.compile(rf"(pegloop_{name}\[PEGLOOP_STRINGS\] = {{)(\d+)")
        altered, count = first.subn(lambda found: f"{found[1]}{int(found[2]) - 1}", good)
        assert count == 1
        (folder / "constants.h").write_text(altered)
        code, said = replayed(folder)
        assert code == 1, f"{name}: {said}"


@needs_cc
def test_gains_at_which_half_of_all_turns_end_in_a_half_replay_exactly(tmp_path: Path) -> None:
    """0.5 and 0.25 degrees per cent leave halves of a millidegree: away from zero in both; others drawn (seed 3)."""
    chance = random.Random(3)
    gains = [0.5, 0.25, *(round(10 ** chance.uniform(-3, 1), 6) for _ in range(4))]
    key = "strategies.proportional.by_string.{}.gain_deg_per_cent={!r}"
    changes = [key.format(name, gain) for name, gain in zip(("E2", "A2", "D3", "G3", "B3", "E4"), gains, strict=True)]
    assert replayed(handed(tmp_path / "out", "proportional", *changes)) == (0, "10000 of 10000 vectors agree\n")


def test_a_strategy_without_a_reference_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["export", "--set", 'strategies.mine.kind="secant"', "--strategy", "mine", "--out", str(tmp_path / "out")]
    assert main(words) == 0
    assert "no reference in C" in capsys.readouterr().err
    names = ["acceptance.json", "acceptance.md", "constants.h", "vectors.csv"]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == names


def test_words_of_a_string_are_its_own_and_json_holds_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["export", "--set", 'strategies.mine.kind="halving"', "--strategy", "mine", "--quiet",
             "--set", 'strategies.mine.by_string.E2.when="every reading"']  # fmt: skip
    assert main(words) == 0
    header = capsys.readouterr().out
    assert 'pegloop_when[PEGLOOP_STRINGS] = {"every reading", "sign change",' in header
    assert main([*words, "--format", "json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert [plain["strings"][name]["when"] for name in ("E2", "A2")] == ["every reading", "sign change"]
    for name, value in plain["strings"]["A2"].items():
        if isinstance(value, int):
            assert re.search(rf"int32_t pegloop_{name}\[PEGLOOP_STRINGS\] = {{-?\d+, {value},", header), name
    assert plain["rig_sha256"] in header


def test_a_move_beyond_the_reserve_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    change = ["--set", "strategies.coarse.largest_move_deg=500"]
    assert main(["export", "--out", str(tmp_path / "out"), *change]) == 0
    told = " ".join(capsys.readouterr().err.split())
    assert "G3: one wrong reading may break it" in told
    assert "E2: one" not in told


def test_what_stands_in_a_folder_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "constants.h").write_text("mine")
    assert main(["export", "--out", str(tmp_path)]) == 2
    assert "not empty" in capsys.readouterr().err
    assert (tmp_path / "constants.h").read_text() == "mine"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--strategy", "coars"], "unknown strategy 'coars'; did you mean coarse?"),
        (["--set", "strategies.coarse.step_deg=3600", "--set", "strategies.coarse.largest_move_deg=1e8"], "32 bits"),
        (["--set", 'strategies.s.kind="bang-bang-spin"', "--strategy", "s"], "asks the motor to spin"),
        (["--set", "strategies.coarse.by_string.E2.take_up_deg=3"], "give every string the same rules"),
        (["--json"], "unrecognized arguments"),
    ],
)
def test_bad_input_is_one_line(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", *words]) == 2
    told = capsys.readouterr().err
    assert said in told and told.count("\n") == 1
