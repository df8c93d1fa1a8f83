"""``pegloop hear``: promised keys, 80 columns, one clear line for what does not go together."""

import json
from pathlib import Path

import pytest

from tests.unit.cli.conftest import Command

KEYS = ("rig", "seed", "truth", "cells", "advice")
KEYS_OF_CELL = (
    "string", "detector", "readings", "bias_cents", "std_cents", "bound_cents", "gross", "octave_up", "octave_down",
    "missed", "latency_s", "ram_bytes", "cpu_s", "fits",
)  # fmt: skip
QUICK = ("hear", "--strings", "E4", "--detectors", "spectrum-peak")
OWN = """
from dataclasses import dataclass
import numpy as np
from models.messages import Estimate


@dataclass(frozen=True)
class Tallest:
    lowest_hz: float = 35.0

    def estimate(self, samples, rate_hz):
        heights = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
        line = int(np.argmax(heights))
        return Estimate(line * rate_hz / len(samples) if line else None, 0.9)


class Greedy:
    def __init__(self, size):
        self.size = size
"""


def test_json_has_the_promised_keys(pegloop: Command) -> None:
    answer = pegloop(*QUICK, "--json", "--seed", 2)
    assert answer.code == 0, answer.err
    found = json.loads(answer.out, parse_constant=lambda name: pytest.fail(name))
    assert tuple(found) == KEYS
    assert (found["rig"], found["seed"], found["truth"]) == ("default", 2, "first-partial")
    assert [(cell["string"], cell["detector"]) for cell in found["cells"]] == [
        ("E4", "harmonic-comb"), ("E4", "spectrum-peak")
    ]  # fmt: skip
    for cell in found["cells"]:
        assert tuple(cell)[: len(KEYS_OF_CELL)] == KEYS_OF_CELL
        assert all(tuple(cell[name]) == ("count", "of", "high") for name in ("gross", "octave_up", "missed"))


def test_tables_fit_into_80_columns_and_advise(pegloop: Command) -> None:
    answer = pegloop(*QUICK)
    assert answer.code == 0, answer.err
    assert [line for line in (answer.out + answer.err).splitlines() if len(line) > 80] == []
    told = " ".join(answer.out.split())
    assert "1 Hz = 5.24 cents" in told  # 1200 log2(330.63/329.63), independent arithmetic
    assert "the rig's own detector, serves on E4" in told
    assert "Intervals cover chance in this simulation, not errors of the model." in told


def test_a_circuit_on_paper(pegloop: Command) -> None:
    answer = pegloop("hear", "--circuit", "--strings", "E2,E4")
    assert answer.code == 0, answer.err
    assert [line for line in answer.out.splitlines() if len(line) > 80] == []
    assert "Sallen-Key" in answer.out
    found = json.loads(pegloop("hear", "theory", "--circuit", "--json").out)
    assert [level["string"] for level in found["levels"]] == ["E4"]
    assert found["advice"]


def test_a_users_detector_is_measured_and_checked(pegloop: Command, tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(OWN, encoding="utf-8")
    option = ("--detector", f"mine={tmp_path / 'own.py'}:Tallest", "--set", 'detector.part="mine"')
    answer = pegloop("hear", *option, "--strings", "E4", "--detectors", "mine")
    assert answer.code == 0, answer.err
    told = " ".join(answer.out.split())
    assert "mine: it must read a steady tone" in told
    assert "mine, the rig's own detector, fails on E4" in told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--wav", "a.wav", "--circuit"), "--wav and --circuit"),
        (("--circuit", "--fit", "b.toml"), "--circuit and --fit"),
        (("--target", "E2"), "--target goes with --wav"),
        (("--circuit", "--detectors", "all"), "--detectors means nothing with --circuit"),
        (("--circuit", "--seed", "2"), "--seed means nothing with --circuit"),
        (("--fit", "b.toml", "--out", "c"), "--out means nothing with --fit"),
        (("--wav", "a.wav", "--strings", "E2"), "--strings means nothing with --wav"),
        (("--detectors", "harmonic-cmb"), "did you mean harmonic-comb"),
        (("--strings", "H2"), "unknown string 'H2'"),
        (("--detector", "spectrum-bin=a.py:B"), "is a name of the library"),
        (("--detector", "mine=a.py"), "expected NAME=path/to/file.py:Class"),
        (("--detector", "mine=nowhere.py:B"), "is no Python file"),
        (("--set", "converter.rate_hz=1e6"), "too fast"),
    ],
)
def test_what_does_not_go_together_is_one_line(pegloop: Command, words: tuple[str, ...], said: str) -> None:
    answer = pegloop("hear", *words)
    assert (answer.code, answer.out) == (2, "")
    assert said in answer.err
    assert len(answer.err.splitlines()) == 1


def test_a_detector_that_needs_parameters_is_one_line(pegloop: Command, tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(OWN, encoding="utf-8")
    answer = pegloop("hear", "--detector", f"mine={tmp_path / 'own.py'}:Greedy", "--detectors", "mine")
    assert answer.code == 2
    assert "mine: cannot be made without parameters" in answer.err
