"""Budgets, price and page of ``pegloop sheet``."""

import json
from pathlib import Path

import pytest

from tests.unit.cli.conftest import Command

SHARES = ["ear bias", "ear per run", "ear per pluck", "ear per reading", "ear clock", "motor step", "deadband", "slop",
          "nut relaxation", "temperature"]  # fmt: skip
WEAK = ("--set", 'motor.part="stepper-geared"')


def test_the_page_has_its_sections_pictures_and_how_to_repeat_it(pegloop: Command, tmp_path: Path) -> None:
    answer = pegloop("sheet", "ukulele", "--out", tmp_path / "out", "--quiet")
    assert answer.code in (0, 1), answer.err
    names = {path.name for path in (tmp_path / "out").iterdir()}
    stems = ("pitch_steps", "error_budget", "turning_senses")
    assert names == {"sheet.md", "sheet.json", *(f"{stem}.{kind}" for stem in stems for kind in ("svg", "png"))}
    page = (tmp_path / "out" / "sheet.md").read_text("utf-8")
    for heading in ("Verdict", "Evidence", "Pictures", "Assumptions", "Limits of validity", "Cautions", "Repeat it"):
        assert f"\n## {heading}\n" in page
    assert all(f"({stem}.svg)" in page for stem in stems)
    assert "A simulation is no proof of safety." in page
    assert "\npegloop sheet ukulele\n" in page


def test_a_folder_with_something_in_it_is_left_alone(pegloop: Command, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    answer = pegloop("sheet", "--out", tmp_path)
    assert (answer.code, answer.out) == (2, "")
    assert len(answer.err.splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_json_has_budgets_price_and_parts(pegloop: Command, tmp_path: Path) -> None:
    data = json.loads(pegloop("sheet", *WEAK, "--json", "--out", tmp_path / "out").out)
    assert data == json.loads((tmp_path / "out" / "sheet.json").read_text("utf-8"))
    budget = data["error_budgets"][0]
    assert [share["name"] for share in budget["shares"]] == SHARES
    assert min(share["total_without_cents"] for share in budget["shares"]) <= budget["total_cents"]
    assert {"known_eur", "budget_eur", "verdict", "unpriced", "sections"} == set(data["price"])
    assert data["cheapest_parts"]["tighten"].keys() == {"check", "strings", "section", "part", "eur"}


@pytest.mark.parametrize(("limit", "code", "said"), [(500, 0, "within the limit of 500 EUR"), (20, 1, "more than the")])
def test_a_price_above_the_limit_fails(pegloop: Command, limit: int, code: int, said: str) -> None:
    answer = pegloop("sheet", "--set", f"require.budget_eur={limit}")
    assert (answer.code, said in " ".join(answer.out.split())) == (code, True)


def test_a_part_without_a_price_is_said_not_to_be_free(pegloop: Command) -> None:
    said = " ".join(pegloop("sheet", "theory").out.split())
    assert "The machine costs at least" in said
    assert "nobody priced motor, ear, and a part without a price is not free" in said


@pytest.mark.parametrize("words", [("default",), ("mandolin",), ("violin",), ("theory",), ("default", *WEAK)])
def test_lines_fit_into_80_columns(pegloop: Command, words: tuple[str, ...]) -> None:
    assert [line for line in pegloop("sheet", *words).out.splitlines() if len(line) > 80] == []
