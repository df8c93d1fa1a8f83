"""``explain`` knows every outcome, measure and key, in two sentences."""

import re

import pytest

from sim.cli.run import SHOWN
from sim.cli.words import MEASURES, OUTCOMES, TERMS
from sim.trace import Outcome
from tests.unit.cli.conftest import Command

DESIGN = (
    "rig", "specimen", "head", "coupler", "drive", "player", "pluck", "ear", "detector", "reading", "controller",
    "strategy", "unit", "guard", "fault", "task", "tolerance", "deadband", "run", "trace", "outcome", "series",
    "dead time", "settling", "creep", "theory",
)  # fmt: skip


def test_every_outcome_measure_and_term_is_there() -> None:
    assert {outcome.name.lower().replace("_", " ") for outcome in Outcome} == set(OUTCOMES)
    assert set(SHOWN) <= set(MEASURES)
    assert set(DESIGN) <= set(TERMS)


@pytest.mark.parametrize(("word", "text"), [*OUTCOMES.items(), *MEASURES.items(), *TERMS.items()])
def test_each_is_two_sentences(word: str, text: str) -> None:
    assert len(re.findall(r"[.?](?: |$)", text)) == 2, word


@pytest.mark.parametrize(
    "word", ["ratio", "step_deg", "gain_deg_per_cent", "tolerance_cents", "plucks", "t60_s", "a4_hz"]
)
def test_keys_are_explained_from_their_components(pegloop: Command, word: str) -> None:
    answer = pegloop("explain", word)
    assert answer.code == 0
    assert f"{word} (key of [" in answer.out


def test_words_may_be_written_freely(pegloop: Command) -> None:
    assert pegloop("explain", "Time", "Limit").out == pegloop("explain", "time-limit").out.replace(
        "time-limit", "Time Limit"
    )
