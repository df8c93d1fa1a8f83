"""Prices: from the library with a dated source, from the rig file, and never guessed."""

import math

import pytest

from scenarios import library
from scenarios.errors import RigError
from scenarios.load import load_rig, load_text
from scenarios.prices import BOUGHT

PARTS = [library.part(section, name) for section in library.FILES for name in library.part_names()[section]]
PRICED = [part for part in PARTS if part.price is not None]


def test_a_price_is_dated_or_a_definition() -> None:
    assert len(PRICED) > 20
    for part in PRICED:
        assert part.price is not None
        assert 0.0 <= part.price.eur < math.inf
        assert part.price.source.startswith(("estimate, 20", "definition"))


def test_only_what_a_rig_reads_has_a_price() -> None:
    assert {part.section for part in PRICED} <= set(BOUGHT)


def test_a_motor_of_theory_cannot_be_bought() -> None:
    assert library.part("motor", "ideal").price is None
    assert "motor" not in load_rig("theory").prices


def test_the_rig_file_wins_over_the_library() -> None:
    usual, own = load_rig("default"), load_rig("default", changes=("motor.price_eur=0",))
    assert usual.prices["motor"] == library.part("motor", "servo-standard").price
    assert own.prices["motor"] == (0.0, "given, --set motor.price_eur=0")
    assert own.motor.values == usual.motor.values


def test_heads_come_with_the_instrument_and_others_are_bought_for_every_string() -> None:
    price = library.part("head", "worm-14").price
    assert price is not None
    assert load_rig("default", changes=('head.part="worm-18"',)).prices["head"].eur == 0.0
    assert load_rig("default", changes=('head.part="worm-14"',)).prices["head"].eur == 6 * price.eur


@pytest.mark.parametrize("wrong", ["-1", '"12"', "true", "{ low = 1, high = 2 }", "nan", "inf"])
def test_what_is_no_price_is_refused_in_one_line(wrong: str) -> None:
    with pytest.raises(RigError) as caught:
        load_text(f"format = 1\n[motor]\nprice_eur = {wrong}\n", "my.toml")
    (line,) = caught.value.lines
    assert line.startswith("my.toml:3  motor.price_eur  found")
    assert line.endswith("allowed: a number, at least 0")


def test_a_section_that_is_not_bought_has_no_price() -> None:
    with pytest.raises(RigError, match="unknown key"):
        load_rig("default", changes=("task.price_eur=1",))


def test_a_budget_is_optional_and_not_negative() -> None:
    usual, own = (load_rig("default", changes=(f"require.{key}",)).require for key in ("plucks=20", "budget_eur=50"))
    assert usual is not None
    assert own is not None
    assert (usual.budget_eur, own.budget_eur) == (0.0, 50.0)
    with pytest.raises(RigError, match="at least 0"):
        load_rig("default", changes=("require.budget_eur=-1",))
