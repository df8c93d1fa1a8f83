"""Every ``pegloop`` command that README shows does what it says, in the order of the page."""

import re
import shlex
from pathlib import Path

import pytest

from sim.cli import main

README = Path(__file__).resolve().parents[2] / "README.md"
COMMAND = re.compile(r"^(?: {4}|\$ |> )?(pegloop(?: .*)?)$", re.MULTILINE)


def commands(text: str) -> list[str]:
    """Return the commands in code blocks: indented by four, or between fences."""
    fenced = re.findall(r"^```\w*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    indented = [line for line in text.splitlines() if line.startswith("    ")]
    return [found.split("#")[0].strip() for block in (*fenced, "\n".join(indented)) for found in COMMAND.findall(block)]


def test_commands_of_readme_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = commands(README.read_text(encoding="utf-8"))
    assert shown
    monkeypatch.chdir(tmp_path)
    for command in shown:
        code = main(shlex.split(command)[1:])
        assert code in (0, 1), f"{command}: exit code {code}, {capsys.readouterr().err}"
