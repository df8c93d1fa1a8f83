"""The template: few keys, each explained, a rig that loads, and a machine of their own for every student."""

import tomllib
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest

from scenarios.library import default, part, ready_rigs
from scenarios.load import load_text
from scenarios.schema import Range
from scenarios.template import new_text

RIGS = ready_rigs()
SEEDS = (None, 0, 7)


def leaves(table: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, dict) and "low" not in value:
            yield from leaves(value)
        else:
            yield key, value


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("rig", RIGS)
def test_it_loads(rig: str, seed: int | None) -> None:
    scenario = load_text(new_text(rig, seed), "new.toml")
    assert scenario.name == "new"
    assert scenario.instrument == tomllib.loads(new_text(rig))["instrument"]["part"]


@pytest.mark.parametrize("rig", RIGS)
def test_it_has_at_most_fifteen_keys(rig: str) -> None:
    assert 10 <= len(list(leaves(tomllib.loads(new_text(rig))))) <= 15


@pytest.mark.parametrize("rig", RIGS)
def test_a_comment_stands_above_every_key(rig: str) -> None:
    lines = new_text(rig).splitlines()
    for above, line in pairwise(lines):
        if "=" in line and not line.startswith("#"):
            assert above.startswith("# ")
    assert max(map(len, lines)) <= 100


def test_a_key_says_unit_bounds_and_where_to_find_its_value() -> None:
    text = " ".join(new_text("default").split())
    assert "Hold the knob and wiggle the motor's horn. # (deg, at least 0, at most 90; here: estimate" in text


def test_it_keeps_what_the_ready_rig_says() -> None:
    raw = tomllib.loads(new_text("theory"))
    assert raw["instrument"]["strings"] == ["E4"]
    assert raw["instrument"]["start_cents"] == -50
    assert raw["coupler"]["slop_deg"] == 0
    assert raw["ear"]["part"] == "exact"
    assert tomllib.loads(new_text("violin"))["instrument"]["tuning"] == "pure-fifths"


def test_without_a_seed_the_unknown_stays_a_range() -> None:
    slop = part("coupler", default("coupler")).values["slop_deg"].value
    assert isinstance(slop, Range)
    assert tomllib.loads(new_text("default"))["coupler"]["slop_deg"] == {"low": slop.low, "high": slop.high}


@pytest.mark.parametrize("seed", range(20))
def test_a_seed_draws_numbers_inside_the_range(seed: int) -> None:
    open_, drawn = (dict(leaves(tomllib.loads(new_text("default", chosen)))) for chosen in (None, seed))
    for key in ("post_radius_mm", "backlash_deg", "slop_deg", "stall_torque_ref_nm"):
        assert open_[key]["low"] <= drawn[key] <= open_[key]["high"]
    assert drawn["start_cents"] == open_["start_cents"]


def test_equal_seeds_give_equal_machines_and_others_other_ones() -> None:
    texts = {seed: new_text("default", seed) for seed in range(20)}
    assert texts[3] == new_text("default", 3)
    assert len({text.split("[head]")[1] for text in texts.values()}) == 20


def test_an_unknown_ready_rig_is_refused() -> None:
    with pytest.raises(KeyError):
        new_text("no-such-rig")
