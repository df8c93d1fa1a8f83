"""How a command starts: light, and wary of foreign modules that hide ours."""

import subprocess
import sys
from pathlib import Path

import pytest

from scenarios import shadow
from tests.unit.cli.conftest import ROOT, Command

HEAVY = ("numpy", "scipy", "pydantic", "rich", "matplotlib", "simpy")


@pytest.mark.parametrize(
    "words", [[], ["--help"], ["--version"], ["run", "--help"], ["comapre"], ["run", "--seed", "x"]]
)
def test_help_and_refusals_load_nothing_heavy(words: list[str]) -> None:
    code = f"import sys; from sim.cli import main; main({words!r}); print([m for m in {HEAVY} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_importing_sim_is_cheap_and_resolves_late() -> None:
    code = (
        f"import sys, sim; print([m for m in {HEAVY} if m in sys.modules]); from sim import compare, load_rig, run; "
        "print(run('default', 'fine', 'E2'))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[0] == "[]"
    assert done.stdout.splitlines()[1].startswith("<run of E2 by fine: ")


def test_a_foreign_module_is_named(tmp_path: Path) -> None:
    (tmp_path / "models.py").write_text("raise SystemExit('must not be imported')", encoding="utf-8")
    start = "from sim.cli import main; sys.exit(main(['run']))"
    code = f"import sys; sys.path[:0] = [{str(tmp_path)!r}, {str(ROOT)!r}]; {start}"
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert str(tmp_path / "models.py") in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("name", ["models", "sim", "controllers"])
def test_the_installed_command_names_a_foreign_module_before_it_starts(name: str, tmp_path: Path) -> None:
    (tmp_path / f"{name}.py").write_text("raise SystemExit('must not be imported')", encoding="utf-8")
    start = "from scenarios.start import main; sys.exit(main())"
    code = f"import sys; sys.path[:0] = [{str(tmp_path)!r}, {str(ROOT)!r}]; {start}"
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.startswith(f"pegloop: the name '{name}' leads to {tmp_path / name}.py")
    assert done.stderr.count("\n") == 1


def test_our_own_packages_are_no_impostors() -> None:
    assert shadow.impostor() is None


def test_new_never_overwrites_and_leaves_nothing_aside(pegloop: Command, tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    assert pegloop("new", path).code == 0
    first = path.read_bytes()
    assert pegloop("new", path, "--draw", 7).code == 2
    assert path.read_bytes() == first
    assert [each.name for each in tmp_path.iterdir()] == ["rig.toml"]


def test_new_refuses_a_name_that_is_none(pegloop: Command) -> None:
    done = pegloop("new", "")
    assert (done.code, done.err) == (2, "pegloop: FILE: '' is no name of a file\n")


def test_a_new_file_is_valid_and_draws_differ(pegloop: Command, tmp_path: Path) -> None:
    for name, seed in (("a", 1), ("b", 1), ("c", 2)):
        assert pegloop("new", tmp_path / name, "--from", "violin", "--draw", seed).code == 0
        assert pegloop("check", tmp_path / name).code == 0
    a, b, c = (tmp_path.joinpath(name).read_text(encoding="utf-8") for name in "abc")
    assert a == b
    assert a != c
