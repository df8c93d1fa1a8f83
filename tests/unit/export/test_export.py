"""What is handed to firmware: whole numbers, a reference in C that replays them, vectors that catch every change."""

import math
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenarios.load import load_rig
from sim.cli import main
from sim.export.acceptance import tunings_without_failure
from sim.export.constants import MOST, constants_of, rounded_half_away, whole
from sim.export.vectors import vectors

needs_cc = pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler")
CONTROL = ("deadband_millicents", "largest_move_angle_millideg", "finish_tolerance_millicents", "finish_readings",
           "retry_most_missed")  # fmt: skip


def test_fifty_nine_tunings_without_failure_show_95_percent() -> None:
    """Success-run theorem: 0.95^59 = 0.0485, 0.95^58 = 0.051 (independent arithmetic)."""
    assert tunings_without_failure(0.95) == 59
    assert 0.95**59 <= 0.05 < 0.95**58
    assert tunings_without_failure(0.9) == 29
    with pytest.raises(ValueError, match="between 0 and 1"):
        tunings_without_failure(1.0)


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
    law = found.plan.controller.inner.inner.inner
    assert law.gain_deg_per_cent == 0.123457
    assert next(each.value for each in found.numbers if each.name == "gain_microdeg_per_cent") == 123457


@pytest.mark.parametrize("kind", ["two-step", "halving", "proportional-integral", "inverse", "secant"])
def test_every_kind_has_constants_and_vectors(kind: str) -> None:
    scenario = load_rig("default", changes=[f'strategies.mine.kind="{kind}"'])
    strategy = next(each for each in scenario.strategies if each.name == "mine")
    found = vectors(constants_of(scenario, strategy, "G3"), scenario.task, 500, 1)
    assert len(found) == 500 and {vector.answer for vector in found} >= {0, 1, 4}
    assert all(abs(vector.amount) <= MOST for vector in found)


def handed(folder: Path, strategy: str, *changes: str) -> Path:
    """Return a folder with what is handed over, and the program that replays it."""
    words = [word for change in changes for word in ("--set", change)]
    assert main(["export", "--strategy", strategy, "--out", str(folder), "--quiet", *words]) == 0
    return folder


def replayed(folder: Path) -> tuple[int, str]:
    """Compile and replay; return the exit code and what was said."""
    compiled = subprocess.run(
        ["cc", "-std=c99", "-Wall", "-Werror", "-O1", "reference.c", "replay.c", "-o", "replay"],
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


def test_a_strategy_without_a_reference_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["export", "--set", 'strategies.mine.kind="secant"', "--strategy", "mine", "--out", str(tmp_path / "out")]
    assert main(words) == 0
    assert "no reference in C" in capsys.readouterr().err
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["acceptance.md", "constants.h", "vectors.csv"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--strategy", "coars"], "unknown strategy 'coars'; did you mean coarse?"),
        (["--set", "strategies.coarse.step_deg=3600", "--set", "strategies.coarse.largest_move_deg=1e8"], "32 bits"),
    ],
)
def test_bad_input_is_one_line(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", *words]) == 2
    told = capsys.readouterr().err
    assert said in told and told.count("\n") == 1
