"""The cheapest part that mends a check: it does, nothing cheaper does, and what has no price is never it."""

import pytest

from scenarios import library
from scenarios.load import load_rig
from scenarios.prices import part_price
from scenarios.schema import Scenario
from sim.design.cheapest import SECTIONS, Remedy, remedies, with_part
from sim.design.sheet import Sheet, design

WEAK = 'motor.part="stepper-geared"'  # 34 mN m at its shaft do not turn the knob of a steel-string guitar


def rig(*changes: str, name: str = "default") -> Scenario:
    return load_rig(name, changes=changes)


def failing(sheet: Sheet) -> set[tuple[str, str]]:
    return {(row.check, row.string) for row in sheet.rows if row.verdict == "does not fit"}


def mends(scenario: Scenario, check: str, section: str, part: str) -> bool:
    """Return whether the whole sheet of the rig with that part has the check met and nothing newly unmet."""
    before, after = failing(design(scenario)), failing(design(with_part(scenario, section, part)))
    return not any(row[0] == check for row in after) and after <= before


def test_a_rig_that_fits_needs_nothing() -> None:
    scenario = rig()
    assert remedies(scenario, design(scenario).rows) == {}


def test_the_remedy_mends_and_nothing_cheaper_does() -> None:
    scenario = rig(WEAK)
    found = remedies(scenario, design(scenario).rows)
    assert {check for check, _ in failing(design(scenario))} == set(found)
    remedy = found["tighten"]
    assert remedy is not None
    assert set(remedy.strings) == set(scenario.strings)
    assert mends(scenario, "tighten", remedy.section, remedy.part)
    for name in library.part_names()["motor"]:
        price = part_price("motor", name, len(scenario.strings))
        if price is not None and price.eur < remedy.eur:
            assert not mends(scenario, "tighten", "motor", name)


def test_an_ideal_motor_is_no_remedy_because_it_has_no_price() -> None:
    scenario = rig('motor.part="gear-motor-100"', name="electric-bass")
    assert mends(scenario, "tighten", "motor", "ideal")
    found = remedies(scenario, design(scenario).rows)["tighten"]
    assert found is None or found.part != "ideal"


def test_what_no_part_mends_has_no_remedy() -> None:
    scenario = rig("task.time_limit_s=0.001")
    assert remedies(scenario, design(scenario).rows)["time"] is None


def test_a_battery_that_is_soon_empty_is_mended_by_another_supply() -> None:
    scenario = rig('supply.part="aa-4"', "supply.capacity_ah=0.0001")
    rows = [row for row in design(scenario).rows if row.check == "battery"]
    assert [row.verdict for row in rows] == ["does not fit"]
    remedy = remedies(scenario, tuple(rows))["battery"]
    assert isinstance(remedy, Remedy)
    assert remedy.section == "supply"
    assert failing(design(with_part(scenario, "supply", remedy.part))) <= failing(design(scenario)) - {
        ("battery", "all")
    }


def test_heads_are_offered_only_where_their_posts_go_in() -> None:
    scenario = rig("head.ratio=1")
    for remedy in remedies(scenario, design(scenario).rows).values():
        assert remedy is None or remedy.section != "head" or remedy.part in ("worm-14", "worm-18")


@pytest.mark.parametrize("section", SECTIONS)
def test_another_part_has_every_value_of_the_library(section: str) -> None:
    name = library.part_names()[section][-1]
    part = library.part(section, name)
    other = with_part(rig(), section, name)
    placed = {"head": "heads", "ear": "ears"}.get(section, section)
    now = getattr(other, placed)
    for each in now.values() if placed != section else (now,):
        assert each.values == {key: value.value for key, value in part.values.items()}
