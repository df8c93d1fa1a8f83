"""A series that is killed at any order to the disk loses no finished run and ends, resumed, in the same files."""

import os
import random
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.series.compare import compare
from sim.series.store import read_results

SMALL: dict[str, Any] = {
    "specimens": 4, "tunings": 2, "strategies": ["coarse", "proportional"], "strings": ["E2", "G3"], "jobs": 1,
}  # fmt: skip
ROOT = Path(__file__).parents[2]
KILLS = 4  # of one series, before it may end
FILES = ("runs.csv", "summary.json")


def dies_at(order: int) -> None:
    """Kill this process with its ``order``-th write, flush or renaming; a write is then half done."""
    left, write = order, os.write

    def counted(do: Any) -> Any:
        def ordered(*arguments: Any) -> Any:
            nonlocal left
            left -= 1
            if left == 0:
                if do is write:
                    write(arguments[0], arguments[1][: len(arguments[1]) // 2])
                os.kill(os.getpid(), signal.SIGKILL)
            return do(*arguments)

        return ordered

    os.write, os.fsync, os.replace = counted(os.write), counted(os.fsync), counted(os.replace)


def killed(rig: Scenario, out: Path, order: int) -> tuple[bool, int]:
    """Run a series in a child that is killed; return whether it was, and how many runs it had told to be finished."""
    tells, told = os.pipe()
    child = os.fork()
    if child == 0:
        tell = os.write
        dies_at(order)

        def progress(done: int, total: int) -> None:
            tell(told, bytes([done]))

        compare([rig], out=out, progress=progress, **SMALL)
        os._exit(0)
    os.close(told)
    with os.fdopen(tells, "rb") as pipe:
        done = pipe.read()
    return os.WIFSIGNALED(os.waitpid(child, 0)[1]), done[-1] if done else 0


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
def test_a_kill_at_any_order_to_the_disk_loses_nothing(tmp_path: Path) -> None:
    rig, orders = load_rig("default"), 0
    whole = compare([rig], out=tmp_path / "whole", **SMALL)
    while True:
        out = tmp_path / f"out{orders}"
        dead, told = killed(rig, out, orders + 1)
        if not dead:
            break
        orders += 1
        journal = out / "journal.jsonl"
        assert (journal.read_bytes().count(b"\n") if journal.exists() else 0) >= told
        compare([rig], out=out, resume=True, **SMALL)
        assert [(out / name).read_bytes() for name in FILES] == [
            (tmp_path / "whole" / name).read_bytes() for name in FILES
        ]
        assert not list(out.glob("*.part"))
        assert read_results(out).rows.tobytes() == whole.rows.tobytes()
    assert orders >= 10  # a manifest, a write at least, the journal's flush, three files of two orders each


def left_alone_for(seconds: float | None, out: Path) -> bool:
    """Run the command, going on where it was, and kill it after so many seconds; return whether it was killed."""
    words = ["compare", "--rigs", "12", "--tunings", "2", "--jobs", "1", "--quiet", "--out", str(out), "--resume"]
    command, environment = [sys.executable, "-m", "sim", *words], {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL) as process:
        try:
            assert process.wait(seconds) == 0
        except subprocess.TimeoutExpired:
            process.kill()
            return True
    return False


@pytest.mark.slow
def test_a_hundred_kills_at_any_instant_end_in_the_same_files(tmp_path: Path) -> None:
    """The whole command, plots and page too: CSV and JSON are those of an uninterrupted series, byte for byte."""
    chance, kills, series = random.Random(1), 0, 0
    assert not left_alone_for(120.0, tmp_path / "whole")
    while kills < 100:
        out, series = tmp_path / f"out{series}", series + 1
        kills += sum(left_alone_for(chance.uniform(0.2, 2.6), out) for _ in range(KILLS))
        assert not left_alone_for(120.0, out)
        for name in FILES:
            assert (out / name).read_bytes() == (tmp_path / "whole" / name).read_bytes()
        assert read_results(out).rows.tobytes() == read_results(tmp_path / "whole").rows.tobytes()
