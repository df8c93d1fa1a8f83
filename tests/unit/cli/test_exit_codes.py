"""Exit codes as the help promises them: 0 done, 1 verdict failed, 2 bad usage or file, 3 crashed, 4 internal."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.unit.cli.conftest import Command

Words = tuple[object, ...]
QUICK: Words = ("compare", "--rigs", 2, "--tunings", 1, "--jobs", 1, "--strings", "E2")
FORMS = pytest.mark.parametrize("form", [(), ("--json",)], ids=["text", "json"])
CRASHING = """
from dataclasses import dataclass


@dataclass(frozen=True)
class Own:
    def start(self, task, kept=None):
        return None

    def update(self, memory, reading):
        raise RuntimeError("sparks")
"""


@FORMS
@pytest.mark.parametrize(
    "words", [("check", "default"), ("sheet",), ("run",), ("run", "--strategy", "coarse,fine"), QUICK]
)
def test_done_is_0(pegloop: Command, words: Words, form: Words) -> None:
    answer = pegloop(*words, *form)
    assert answer.code == 0, answer.err
    if form:
        json.loads(answer.out, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))


@pytest.mark.parametrize(
    "words", [(), ("--help",), ("--version",), ("run", "--help"), ("parts",), ("check", "--schema")]
)
def test_words_alone_are_0(pegloop: Command, words: Words) -> None:
    answer = pegloop(*words)
    assert answer.code == 0
    assert answer.out


@FORMS
def test_a_hopeless_rig_is_1(pegloop: Command, rig: Callable[[str], Path], form: Words) -> None:
    """No string holds ten times the pitch: the tension would grow a hundredfold (Mersenne)."""
    answer = pegloop(
        "check", rig('[instrument]\npart = "steel-string-guitar"\n[strings.E2]\ntarget = "824 Hz"\n'), *form
    )
    assert answer.code == 1, answer.err
    assert "would break" in answer.out


@FORMS
@pytest.mark.parametrize(("condition", "code"), [("in_tune<=1", 1), ("in_tune>1", 0), ("fine:broken<0", 0)])
def test_fail_if_decides_between_0_and_1(pegloop: Command, condition: str, code: int, form: Words) -> None:
    assert pegloop(*QUICK, "--fail-if", condition, *form).code == code


def test_a_requirement_that_fails_is_1(pegloop: Command, rig: Callable[[str], Path]) -> None:
    """Every run lasts longer than a microsecond."""
    path = rig("[require]\nseconds = 1e-6\n")
    assert pegloop("compare", path, "--rigs", 10, "--tunings", 1, "--jobs", 1, "--strings", "E2").code == 1


@pytest.mark.parametrize(
    "words",
    [
        ("comapre",), ("--nonsense",), ("new",), ("check",), ("check", "no-such-rig"), ("run", "--seed", "-1"),
        ("run", "--seed", "x"), ("run", "--string", "H9"), ("run", "--strategy", ","), ("run", "--strategy", "fien"),
        ("run", "--set", "nothing"), ("run", "--set", "motor.travel_deg=wide"), ("run", "--controller", "x"),
        ("run", "--controller", "x=missing.py:Own"), ("run", "--hide-truth", "--out", "x"), ("parts", "nothing"),
        ("explain", "nonsense"), ("explain",), ("compare", "--rigs", "0"), ("compare", "--strings", "H9"),
        ("compare", "--strategies", "fien"), ("compare", "--fail-if", "tuned<1"), ("compare", "--resume"),
        ("compare", "--jobs", "1.5"), ("compare", "--colour", "blue"), ("check", "/"), ("check", "a\nb"),
        ("sheet", "no-such-rig"), ("sheet", "--set", "nothing"), ("sheet", "--set", "motor.microsteps=3"),
        ("new", "no-such-folder/rig.toml"), ("new", "x.toml", "--from", "defualt"),
    ],
)  # fmt: skip
def test_bad_usage_is_2_in_few_words(pegloop: Command, words: Words) -> None:
    answer = pegloop(*words)
    assert answer.code == 2
    assert answer.out == ""
    assert answer.err.strip()
    assert "Traceback" not in answer.err
    assert answer.err.count("\n") <= 3


@pytest.mark.parametrize(
    ("words", "meant"),
    [(("comapre",), "compare"), (("run", "--strategy", "fien"), "fine"), (("explain", "overshot"), "overshoot_cents")],
)
def test_a_slip_of_the_pen_is_met_with_the_nearest_word(pegloop: Command, words: Words, meant: str) -> None:
    assert f"did you mean {meant}" in pegloop(*words).err


def test_all_errors_of_a_file_are_told(pegloop: Command, rig: Callable[[str], Path]) -> None:
    answer = pegloop("check", rig('[motor]\ntravel = 1\n[head]\nratio = "18"\n'), "--json")
    assert answer.code == 2
    told = json.loads(answer.out)
    assert not told["valid"]
    assert len(told["errors"]) == 2
    assert [line in answer.err for line in told["errors"]] == [True, True]


@FORMS
@pytest.mark.parametrize("words", [("run",), QUICK])
def test_a_crash_of_ones_own_controller_is_3(
    pegloop: Command, rig: Callable[[str], Path], tmp_path: Path, words: Words, form: Words
) -> None:
    (tmp_path / "own.py").write_text(CRASHING, encoding="utf-8")
    path = rig('[strategies.mine]\nkind = "own"\n')
    answer = pegloop(words[0], path, *words[1:], "--controller", f"own={tmp_path / 'own.py'}:Own", *form)
    assert answer.code == 3, answer.err


def test_a_crash_says_what_was_raised(pegloop: Command, rig: Callable[[str], Path], tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(CRASHING, encoding="utf-8")
    own = ("--controller", f"own={tmp_path / 'own.py'}:Own")
    path = rig('[strategies.mine]\nkind = "own"\n')
    assert "RuntimeError: sparks" in pegloop("run", path, *own).out
    checked = pegloop("check", path, *own)
    assert checked.code == 1
    assert "strategy mine" in checked.out


@pytest.mark.parametrize("wanted", ["", "1"])
def test_a_fault_of_ours_is_4(pegloop: Command, monkeypatch: pytest.MonkeyPatch, wanted: str) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("by us")

    monkeypatch.setattr("sim.evaluate.record_of", broken)
    monkeypatch.setenv("PEGLOOP_DEBUG", wanted)
    answer = pegloop("run")
    assert answer.code == 4
    assert "ZeroDivisionError: by us" in answer.err
    assert ("Traceback" in answer.err) == bool(wanted)


def test_an_interruption_is_130_and_says_how_to_go_on(
    pegloop: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("sim.series.compare.compare", stopped)
    answer = pegloop("compare", "--out", tmp_path / "results")
    assert answer.code == 130
    assert f"pegloop compare --out {tmp_path / 'results'} --resume" in answer.err


@pytest.mark.parametrize(
    "words", [("run", "--strategy", "one,two"), (*QUICK, "--strategies", "one,two"), ("check",), ("sheet",)]
)
def test_several_controllers_of_ones_own(
    pegloop: Command, rig: Callable[[str], Path], tmp_path: Path, words: Words
) -> None:
    """``--controller`` may be repeated; a name that is taken is refused."""
    listening = CRASHING.replace('raise RuntimeError("sparks")', "return LISTEN, memory")
    (tmp_path / "own.py").write_text(f"from models.messages import LISTEN\n{listening}", encoding="utf-8")
    path = rig('[strategies.one]\nkind = "one"\n[strategies.two]\nkind = "two"\n')
    own = [word for name in ("one", "two") for word in ("--controller", f"{name}={tmp_path / 'own.py'}:Own")]
    assert pegloop(words[0], path, *words[1:], *own).code in (0, 1)
    for taken in ("one", "bang-bang"):
        refused = pegloop(words[0], path, *words[1:], *own, "--controller", f"{taken}={tmp_path / 'own.py'}:Own")
        assert refused.code == 2
        assert f"--controller {taken}: is the name of" in refused.err
