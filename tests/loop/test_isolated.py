"""A user's controller at arm's length: each way to fail has its name, and other runs do not notice."""

import io
import os
import sys
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scenarios.load import load_rig
from sim import isolated
from sim.evaluate import record_of
from sim.isolated import Failed, Isolated
from sim.plan import check_apart, law
from sim.series.compare import compare
from sim.series.plugins import load_plugin
from sim.trace import Outcome

OWN = '''
import os, sys, time
from dataclasses import dataclass, field
from models.messages import GiveUp, LISTEN, Turn

@dataclass(frozen=True)
class Good:
    gain_deg_per_cent: float = 0.6
    def start(self, task, kept=None):
        return ["memory"]
    def update(self, memory, seen):
        if seen.cents is None or abs(seen.cents) <= 2.0:
            return LISTEN, memory
        return self.answer(seen)
    def answer(self, seen):
        return Turn(-self.gain_deg_per_cent * seen.cents), ["more"]

class Sum(float):
    """A number of the user's own kind."""

class Fancy(Good):
    def answer(self, seen):
        return Turn(Sum(-0.6 * seen.cents)), ["more"]
class Raises(Good):
    def answer(self, seen): raise ZeroDivisionError("gain of nothing")
class Hangs(Good):
    def answer(self, seen):
        while True: pass
class Undefined(Good):
    def answer(self, seen): return Turn(float("nan")), None
class Wordless(Good):
    def answer(self, seen): return 3, None
class Single(Good):
    def answer(self, seen): return LISTEN
class Spells(Good):
    def answer(self, seen): return Turn("ten"), None
class Secretive(Good):
    def start(self, task, kept=None): return lambda: None
class Stuck(Good):
    def __reduce__(self): raise TypeError("stays here")
class Leaves(Good):
    def answer(self, seen): sys.exit(5)
class Dies(Good):
    def answer(self, seen): os._exit(7)
class Eats(Good):
    def answer(self, seen): return bytearray(3_000_000_000)
class Prints(Good):
    def answer(self, seen):
        print("from update"); os.write(1, b"and below it")
        return super().answer(seen)
class Stillborn(Good):
    def start(self, task, kept=None): raise OSError("no start")
@dataclass(frozen=True)
class Told(Good):
    believed_cents_per_deg: float = 0.0
    def answer(self, seen): return GiveUp(f"{self.believed_cents_per_deg:.6f}"), None
'''


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("own") / "own.py"
    path.write_text(OWN, encoding="utf-8")
    return path


def scenario(own: Path, *names: str) -> Any:
    """The default rig with one strategy for each class of the user's file."""
    plugins = {name: load_plugin(str(own), name) for name in names}
    return load_rig("default", plugins=plugins, changes=[f"strategies.{name}.kind={name}" for name in names])


@pytest.mark.parametrize(
    ("name", "how", "sentence"),
    [
        ("Raises", "raised", "ZeroDivisionError: gain of nothing (own.py, line "),
        ("Undefined", "not a number", "Turn(angle_deg=nan)"),
        ("Wordless", "wrong type", "answered with 3, which is no command"),
        ("Single", "wrong type", "update must return (command, memory)"),
        ("Spells", "wrong type", "must be real number"),
        ("Secretive", "wrong type", "its memory cannot be kept"),
        ("Stuck", "wrong type", "its parameters cannot be sent"),
        ("Leaves", "exited", "it left with code 5"),
        ("Dies", "exited", "it left with code 7"),
        ("Stillborn", "raised", "OSError: no start"),
        pytest.param("Eats", "out of memory", "more than 1 GB", marks=pytest.mark.skipif(
            sys.platform != "linux", reason="no limit of address space")),
    ],
)  # fmt: skip
def test_each_failure_is_a_crash_that_names_itself(own: Path, name: str, how: str, sentence: str) -> None:
    record = record_of(scenario(own, name), name, "A2")
    assert record.outcome is Outcome.CRASHED
    assert record.detail.startswith(f"{how}: ")
    assert sentence in record.detail


def test_a_controller_that_hangs_is_ended(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ask = Isolated._ask
    monkeypatch.setattr(Isolated, "_ask", lambda self, verb, *given: ask(self, verb, *given, limit_s=0.2))
    rig = scenario(own, "Hangs", "Good")
    record = record_of(rig, "Hangs", "A2")
    assert (record.outcome, record.detail) == (Outcome.CRASHED, "hung: no answer within 0.2 s")
    assert record_of(rig, "Good", "A2").outcome is Outcome.FINISHED


def test_a_child_answers_as_the_class_itself_does(own: Path) -> None:
    """The same runs with the controller in a child and in this process."""
    apart, here = scenario(own, "Good"), load_rig(
        "default", plugins={"Good": _copied(own)}, changes=["strategies.Good.kind=Good"]
    )  # fmt: skip
    for string in apart.strings:
        first, second = record_of(apart, "Good", string), record_of(here, "Good", string)
        assert first.commands == second.commands
        assert first.readings == second.readings


def _copied(own: Path) -> type:
    """The class under another module's name, so that it counts as no user's file."""
    namespace: dict[str, Any] = {"__name__": "tests.loop.test_isolated"}
    exec(own.read_text("utf-8"), namespace)
    found: type = namespace["Good"]
    return found


def test_other_runs_are_what_they_were(own: Path) -> None:
    """Rows of the shipped strategies with and without failing ones beside them, and a good own one among them."""
    names = ("Raises", "Dies", "Good", "Leaves")
    beside = compare((scenario(own, *names),), strings=["A2", "E4"], specimens=3, tunings=1, jobs=1)
    alone = compare((scenario(own, "Good"),), strings=["A2", "E4"], specimens=3, tunings=1, jobs=1)
    assert beside.crashed() == 3 * 3 * 2
    shares = {each["name"]: each for each in beside.summary["strategies"]}
    for each in alone.summary["strategies"]:
        assert shares[each["name"]]["plucks"] == each["plucks"]
        assert shares[each["name"]]["in_tune"] == each["in_tune"]


def test_workers_keep_children_of_their_own(own: Path) -> None:
    rig = scenario(own, "Good", "Dies")
    plugins = tuple((name, str(own), name) for name in ("Good", "Dies"))
    options: dict[str, Any] = {"strings": ["A2"], "strategies": ["Good", "Dies"], "specimens": 4, "tunings": 1}
    serial = compare((rig,), jobs=1, plugins=plugins, **options).rows
    parallel = compare((rig,), jobs=2, plugins=plugins, **options).rows
    for column in serial.dtype.names:
        assert np.array_equal(serial[column], parallel[column], equal_nan=serial[column].dtype.kind == "f")


def test_what_a_controller_prints_does_not_reach_stdout(own: Path, capfd: pytest.CaptureFixture[str]) -> None:
    rig = scenario(own, "Prints")
    with redirect_stdout(io.StringIO()) as stdout:
        assert record_of(rig, "Prints", "A2").outcome is Outcome.FINISHED
    assert stdout.getvalue() == ""
    assert capfd.readouterr().out == ""
    assert "from update" in check_apart(rig, rig.strategies[-1], "A2")


def test_a_number_of_the_users_own_kind_is_made_plain(own: Path) -> None:
    commands = record_of(scenario(own, "Fancy"), "Fancy", "A2").commands
    assert {type(command.angle_deg) for _, command in commands if hasattr(command, "angle_deg")} == {float}


def test_the_check_runs_apart_too(own: Path) -> None:
    rig = scenario(own, "Leaves", "Raises")
    for strategy, sentence in zip(rig.strategies[-2:], ("exited", "raised ZeroDivisionError"), strict=True):
        with pytest.raises(Failed, match=sentence):
            check_apart(rig, strategy, "A2")


def test_a_users_controller_may_ask_for_the_belief(own: Path) -> None:
    rig = scenario(own, "Told")
    held = law(rig, rig.strategies[-1], "A2")
    assert isinstance(held, Isolated)
    record = record_of(rig, "Told", "A2")
    assert record.outcome is Outcome.GAVE_UP
    assert held.law.believed_cents_per_deg > 0.0
    assert float(record.detail) == pytest.approx(held.law.believed_cents_per_deg, abs=1e-6)


def test_no_child_outlives_its_use(own: Path) -> None:
    record_of(scenario(own, "Good"), "Good", "A2")
    children = isolated._children
    processes = [child._process for child in children._by_module.values()]
    assert processes
    children.end()
    assert all(process.poll() is not None for process in processes)
    children._by_module.clear()


def test_a_forked_process_starts_its_own(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record_of(scenario(own, "Good"), "Good", "A2")
    mine = dict(isolated._children._by_module)
    monkeypatch.setattr(isolated._children, "_owner", os.getpid() + 1)  # as after a fork
    assert record_of(scenario(own, "Good"), "Good", "A2").outcome is Outcome.FINISHED
    assert all(isolated._children._by_module.get(name) is not child for name, child in mine.items())
    for child in mine.values():
        child.end()
