"""A command's answer: exit code, stdout and stderr, from inside this process or from one of its own."""

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from sim.cli import main

ROOT = Path(__file__).resolve().parents[3]


@dataclass(frozen=True)
class Answer:
    code: int
    out: str
    err: str


def refuses(found: Answer, told: str) -> bool:
    """Return whether an answer is one clear line that holds ``told``, with exit code 2 and nothing else."""
    return found.code == 2 and told in found.err and found.err.count("\n") == 1 and found.out == ""


Command = Callable[..., Answer]


@pytest.fixture
def pegloop(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    monkeypatch.setenv("COLUMNS", "80")

    def command(*words: object) -> Answer:
        code = main([str(word) for word in words])
        return Answer(code, *capsys.readouterr())

    return command


@pytest.fixture
def process() -> Command:
    def command(*words: object, **environment: str) -> Answer:
        done = subprocess.run(
            [sys.executable, "-m", "sim", *map(str, words)],
            cwd=ROOT, env=os.environ | {"COLUMNS": "80"} | environment, capture_output=True, timeout=60, check=False,
        )  # fmt: skip
        return Answer(done.returncode, done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace"))

    return command


@pytest.fixture
def rig(tmp_path: Path) -> Callable[[str], Path]:
    def written(text: str) -> Path:
        path = tmp_path / "own.toml"
        path.write_text(f"format = 1\n{text}", encoding="utf-8")
        return path

    return written
