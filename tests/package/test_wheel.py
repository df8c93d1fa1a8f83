"""The built wheel, installed where nothing of the source tree is near, does the main job."""

import json
import os
import shutil
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(*command: object, cwd: Path) -> str:
    """Return what a command prints; its error output is shown when it fails."""
    clean = {key: value for key, value in os.environ.items() if key not in ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV")}
    done = subprocess.run([str(word) for word in command], cwd=cwd, env=clean, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder, source = tmp_path_factory.mktemp("wheel"), tmp_path_factory.mktemp("source")
    for name in run("git", "ls-files", cwd=ROOT).splitlines():  # a copy: building leaves folders behind
        (source / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, source / name)
    run(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, source, cwd=folder)
    return next(folder.glob("*.whl"))


def test_wheel_holds_every_module_and_every_part(wheel: Path) -> None:
    packed = set(zipfile.ZipFile(wheel).namelist())
    tracked = run("git", "ls-files", "models", "controllers", "scenarios", "sim", cwd=ROOT).splitlines()
    wanted = {name for name in tracked if name.endswith((".py", ".toml", ".json"))}
    assert wanted <= packed
    assert not any(name.startswith("tests") for name in packed)


def test_wheel_runs_from_an_empty_folder(wheel: Path, tmp_path: Path) -> None:
    """The folder has a space and an accent in its name, and a hostile ``models.py`` in it."""
    home = tmp_path / "clean"
    venv.create(home, with_pip=True)
    bin_folder = home / ("Scripts" if os.name == "nt" else "bin")
    run(bin_folder / "python", "-m", "pip", "install", "--quiet", wheel, cwd=tmp_path)
    empty = tmp_path / "an empty fólder"
    empty.mkdir()
    (empty / "models.py").write_text("raise SystemExit('the wrong models')\n")
    pegloop = bin_folder / "pegloop"
    assert "pegloop" in run(pegloop, "--version", cwd=empty)
    run(pegloop, "check", "default", cwd=empty)
    told = json.loads(run(pegloop, "compare", "--rigs", "2", "--tunings", "1", "--json", "--quiet", cwd=empty))
    assert [strategy["runs"] for strategy in told["strategies"]] == [12, 12, 12]
    assert sorted(path.name for path in empty.iterdir()) == ["models.py"]
