"""Indices against a published function, and machines that are crossed in one unknown at a time."""

from itertools import product

import numpy as np
import pytest

from scenarios.load import load_rig
from sim.seeds import PLUCKS, SPECIMEN, START, Streams, run_key
from sim.series.unknowns import CHANCE, ELSE, Asked, indices, open_keys, resolved, unknowns
from sim.series.unknowns_streams import START_KEY, Crossed, factor_of

FACTORS = ("coupler.slop_deg", "strings.*.strength_mpa", START_KEY)
NAMES = ("coupler.slop_deg", "E2 strings.E2.strength_mpa", "E2 head.backlash_deg")


def test_indices_of_the_ishigami_function() -> None:
    """First 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437 (Ishigami & Homma 1990, a = 7, b = 0.1; closed form)."""

    def ishigami(x):
        return np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])

    chance = np.random.Generator(np.random.Philox(3))
    one, other = chance.uniform(-np.pi, np.pi, (2, 3, 4096))
    crossed = [np.where(np.arange(3)[:, None] == place, other, one) for place in range(3)]
    columns = np.array([ishigami(x) for x in (one, other, *crossed)])
    found = {each["key"]: each for each in indices(columns, ("a", "b", "c"))}
    for key, first, total in (("a", 0.3139, 0.5576), ("b", 0.4424, 0.4424), ("c", 0.0, 0.2437)):
        for name, truth in (("first", first), ("total", total)):
            assert found[key][name]["low"] <= truth <= found[key][name]["high"]
            assert found[key][name]["index"] == pytest.approx(truth, abs=0.06)


def test_what_does_nothing_is_not_resolved_and_what_does_all_leads() -> None:
    chance = np.random.Generator(np.random.Philox(4))
    one, other = chance.random((2, 256))
    all_of_it, nothing = indices(np.array([one, other, other, one]), ("all of it", "nothing"))
    assert (all_of_it["key"], all_of_it["leads"], resolved(all_of_it)) == ("all of it", 1.0, True)
    assert not resolved(nothing)


def test_where_nothing_varies_there_are_no_indices() -> None:
    assert indices(np.ones((4, 8)), ("a", "b")) == []


def test_a_column_takes_one_factor_from_the_other_machine_and_all_else_from_its_own() -> None:
    crossed, plain = Crossed(9, FACTORS).streams(), Streams(9)
    row, columns = 5, len(FACTORS) + 3
    for column, name in product(range(columns), NAMES):
        factor = factor_of(name)
        place = FACTORS.index(factor) if factor in FACTORS else len(FACTORS)
        machine = 2 * row + (column == 1 or column - 2 == place)
        assert crossed.uniform(name, row * columns + column) == plain.uniform(name, machine)


@pytest.mark.parametrize(("purpose", "factor"), [(START, 2), (PLUCKS, 3)])
def test_starts_are_a_factor_and_plucks_belong_to_chance(purpose, factor) -> None:
    crossed, plain = Crossed(9, FACTORS).streams(), Streams(9)
    for column in range(6):
        machine = int(column in (1, factor + 2))
        found = crossed.at(purpose, "E2", run_key(column, 1)).random()
        assert found == plain.at(purpose, "E2", run_key(machine, 1)).random()
    assert purpose != SPECIMEN


def test_keys_that_are_open_are_ranges_and_those_of_a_session_only_in_one() -> None:
    keys = open_keys(load_rig("default"))
    assert {"coupler.slop_deg", "strings.*.unit_weight_g_per_m", START_KEY} <= set(keys)
    assert not [key for key in keys if key.startswith(("body.", "session.", "strategies.", "task."))]
    assert "body.compliance_um_per_n" in open_keys(load_rig("default", session=True))


def test_strength_alone_decides_about_the_share_of_breaking_where_nothing_else_is_open() -> None:
    """Tension at pitch is the same on all machines, so its share of breaking varies with the strength only."""
    rig = load_rig("theory", changes=("strings.E4.unit_weight_g_per_m=0.57", "strings.E4.knot_factor=0.85"))
    keys = ("strings.*.strength_mpa", "strings.*.t60_s")
    found = unknowns(rig, keys, Asked(("half",), rows=64, jobs=1)).summary
    (measures,) = (one["measures"] for one in found["strategies"])
    first, *others = measures["percent_of_breaking"]
    assert first["key"] == "strings.*.strength_mpa"
    assert first["total"]["low"] > 0.5
    assert {one["key"] for one in others} == {"strings.*.t60_s", ELSE}


def test_processes_give_the_same_indices() -> None:
    rig = load_rig("theory")
    alone, two = (unknowns(rig, open_keys(rig), Asked(("half",), rows=4, jobs=jobs)).summary for jobs in (1, 2))
    assert alone == two
    measures = alone["strategies"][0]["measures"]
    assert measures["percent_of_breaking"][0]["key"] in open_keys(rig)
    assert CHANCE in {one["key"] for one in measures["percent_of_breaking"]}
