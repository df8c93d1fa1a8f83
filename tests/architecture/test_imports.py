"""The import direction of the rooms, no cycles, and what importing may load."""

import json
import subprocess
import sys
from itertools import product

import pytest
from source import PACKAGES, ROOT, imports, modules

ALLOWED = {
    "models": {"models", "numpy", "scipy", "pydantic"},
    "controllers": {"controllers", "models", "pydantic"},
    "scenarios": {"scenarios", "models", "controllers", "pydantic"},
    "sim": {*PACKAGES, "numpy", "scipy", "simpy", "matplotlib", "pydantic", "rich", "distributed"},
}
SEEN_BY_CONTROLLERS = ("models.messages", "models.units", "models.component")
HEAVY = ("matplotlib", "scipy.signal", "scipy.stats")


def top(name: str) -> str:
    return name.split(".")[0]


@pytest.mark.parametrize("name", modules())
def test_rooms_import_only_what_they_may(name: str) -> None:
    foreign = {top(found) for found in imports(modules()[name])} - set(sys.stdlib_module_names)
    assert foreign <= ALLOWED[top(name)]


@pytest.mark.parametrize("name", [name for name in modules() if top(name) == "controllers"])
def test_controllers_see_no_plant(name: str) -> None:
    """A controller reads no plant: of models it knows messages, units and the component decorator."""
    seen = {found for found in imports(modules()[name]) if top(found) == "models"}
    assert [found for found in seen if not found.startswith(SEEN_BY_CONTROLLERS)] == []


def test_no_module_imports_itself_in_a_circle() -> None:
    """Importing goes one way: no cycle among what runs at import time, nor among the packages."""
    graph = {name: _own(imports(tree, everywhere=False), name) for name, tree in modules().items()}
    while leaves := {name for name, needs in graph.items() if not needs & graph.keys()}:
        graph = {name: needs for name, needs in graph.items() if name not in leaves}
    assert graph == {}


def test_no_package_is_imported_both_ways() -> None:
    needs = {
        package: {top(found) for name, tree in modules().items() if top(name) == package for found in imports(tree)}
        for package in PACKAGES
    }
    both = [(a, b) for a, b in product(PACKAGES, PACKAGES) if a < b and b in needs[a] and a in needs[b]]
    assert both == []


def _own(found: set[str], name: str) -> set[str]:
    """Return the modules of ours among the imported names, without the package that holds the module."""
    return {other for other in found if other in modules() and other != name and not name.startswith(other + ".")}


@pytest.mark.parametrize(
    ("library", "home"),
    [("matplotlib", "sim.views.plots"), ("simpy", "sim.loop"), ("rich", "sim."), ("distributed", "sim.cli.cluster")],
)
def test_a_library_is_used_in_one_place(library: str, home: str) -> None:
    users = [name for name, tree in modules().items() if library in {top(found) for found in imports(tree)}]
    assert [name for name in users if not name.startswith(home)] == []


@pytest.mark.parametrize("name", modules())
def test_heavy_libraries_are_imported_where_they_are_used(name: str) -> None:
    if name.startswith("sim.views.plots."):
        return
    early = imports(modules()[name], everywhere=False)
    assert [found for found in early if found.startswith(HEAVY)] == []


def loaded(code: str) -> set[str]:
    """Return the modules that a fresh interpreter has loaded after running ``code``."""
    script = f"import sys\nsys.path.insert(0, {str(ROOT)!r})\n{code}\nimport json\nprint(json.dumps(list(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.parametrize("name", ["sim", "sim.cli"])
def test_importing_is_cheap(name: str) -> None:
    seen = loaded(f"import {name}")
    assert name in seen
    assert [
        found for found in seen if found.startswith((*HEAVY, "numpy", "pydantic", "rich", "distributed", "simpy"))
    ] == []


def test_only_the_kinds_that_a_rig_names_are_imported() -> None:
    seen = loaded("from scenarios.load import load_rig\nload_rig('default')")
    assert {"controllers.bang_bang", "controllers.proportional", "models.motors.servo"} <= seen
    unwanted = {"controllers.bang_bang_spin", "controllers.proportional_spin", "models.motors.ideal"}
    assert unwanted & seen == set()
    assert [found for found in seen if top(found) in ("numpy", "scipy", "simpy", "matplotlib")] == []


def test_the_design_sheet_loads_the_kinds_of_its_rig_and_nothing_heavy() -> None:
    quietly = "import io, contextlib\nwith contextlib.redirect_stdout(io.StringIO()):\n    main(['sheet', '--quiet'])"
    seen = loaded(f"from sim.cli import main\n{quietly}")
    assert "models.motors.servo" in seen
    unwanted = ("numpy", "scipy", "simpy", "matplotlib", "models.motors.stepper", "models.motors.gear_motor")
    assert [name for name in seen if name.startswith(unwanted)] == []
