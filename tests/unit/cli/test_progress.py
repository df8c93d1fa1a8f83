"""Talk while a series runs, and what an interruption leaves behind."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sim.cli import progress
from sim.cli.screen import Screen
from tests.unit.cli.conftest import ROOT


@pytest.mark.parametrize(("quiet", "told"), [(False, "3 of 9 runs\n"), (True, "")])
def test_without_a_terminal_a_line_comes_now_and_then(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, quiet: bool, told: str
) -> None:
    monkeypatch.setattr(progress, "EVERY_S", 0.0)
    with progress.Progress(Screen("auto", quiet)) as watch:
        watch(3, 9)
    out, err = capsys.readouterr()
    assert (out, err) == ("", told)


def test_no_line_before_its_time(capsys: pytest.CaptureFixture[str]) -> None:
    with progress.Progress(Screen("auto", False)) as watch:
        watch(3, 9)
    assert capsys.readouterr().err == ""


@pytest.mark.skipif(os.name != "posix", reason="sends SIGINT")
@pytest.mark.parametrize("jobs", ["1", "2"])
def test_ctrl_c_keeps_whole_lines_and_says_how_to_go_on(tmp_path: Path, jobs: str) -> None:
    journal = tmp_path / "results" / "journal.jsonl"
    words = [sys.executable, "-m", "sim", "compare", "--rigs", "5000", "--jobs", jobs, "--out", str(journal.parent)]
    running = subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + 30.0
    while time.monotonic() < deadline and not (journal.exists() and journal.stat().st_size > 10_000):
        time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=30)
    assert (running.returncode, out) == (130, "")
    assert "--resume" in err
    assert "Traceback" not in err
    assert all(json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines())
