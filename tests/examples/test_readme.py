"""README is true: its commands work in the order of the page, and what it shows as printed is what is printed."""

import os
import re
import runpy
import shlex
from pathlib import Path

import pytest

from sim.cli import main

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMAND = re.compile(r"^ {4}\.venv/bin/(pegloop .*)$", re.MULTILINE)
NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")
EXAMPLES = sorted((ROOT / "scenarios" / "examples").glob("*.py"))


def printed(after: str) -> str:
    """Return the block between ``text`` fences that follows a sentence of README."""
    return README.split(after, 1)[1].split("```text\n", 1)[1].split("```", 1)[0]


def test_commands_of_readme_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = [found.split("#")[0].strip() for found in COMMAND.findall(README)]
    assert len(shown) >= 6
    monkeypatch.chdir(tmp_path)
    for command in shown:
        code = main(shlex.split(command)[1:])
        assert code == 0, f"{command}: exit code {code}, {capsys.readouterr().err}"


def test_default_comparison_prints_what_readme_shows(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["compare", "--quiet"]) == 0
    assert capsys.readouterr().out.strip() == printed("`pegloop compare` printed").strip()


def test_hear_prints_what_readme_shows(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Words as shown, numbers within 5 %: single-precision cosines differ from processor to processor."""
    monkeypatch.setenv("COLUMNS", "80")
    command = README.split("as `pegloop hear small-ear", 1)[1].split("`", 1)[0]
    assert main(["hear", "small-ear", *shlex.split(command), "--quiet"]) == 0
    found, shown = (text.split() for text in (capsys.readouterr().out, printed("`pegloop hear small-ear")))
    assert [NUMBER.sub("#", word) for word in found] == [NUMBER.sub("#", word) for word in shown]
    for ours, theirs in zip(found, shown, strict=True):
        counts = ours.count("/") > 1  # octaves up/down/other/missed
        numbers = [list(map(float, NUMBER.findall(word))) for word in (ours, theirs)]
        assert numbers[0] == pytest.approx(numbers[1], rel=0.05, abs=3.0 if counts else 0.2)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_examples_print_what_stands_beside_them(example: Path, capsys: pytest.CaptureFixture[str]) -> None:
    runpy.run_path(str(example), run_name="__main__")
    assert capsys.readouterr().out == example.with_suffix(".out").read_text(encoding="utf-8")


def test_python_of_readme_is_the_tested_example() -> None:
    block = README.split("```python\n", 1)[1].split("```", 1)[0]
    assert block == (ROOT / "scenarios" / "examples" / "own_controller.py").read_text(encoding="utf-8")


def test_ci_runs_the_very_test_command_of_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    (command,) = re.findall(r"^    (python3 -m venv \.venv-test .*)$", README, re.MULTILINE)
    assert "pytest" in command and "README.md" in script and os.access(ROOT / ".ci" / "run", os.X_OK)


@pytest.mark.slow
def test_sweep_of_the_step_says_what_readme_quotes(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    command = next(found for found in COMMAND.findall(README) if "step_deg=3:13:6" in found)
    words = shlex.split(command.replace("3:13:6", "3:13:11").partition(" --rigs")[0])[1:]
    assert main([*words, "--quiet"]) == 0
    quoted = README.split("\n> fine:", 1)[1].split("\n\n", 1)[0].replace("\n>", "")
    assert f"fine:{quoted}" in " ".join(capsys.readouterr().out.replace("\n- ", "\n").split())
