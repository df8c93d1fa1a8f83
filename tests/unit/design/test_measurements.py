"""The table of measurements and what is chosen from it for a rig."""

import pytest

from scenarios import library
from scenarios.library import part_names
from scenarios.load import load_rig
from sim.design.bench import MOST, Bench, bench
from sim.design.bench_trial import TRIALS
from sim.design.measurements import MEASUREMENTS, Measurement

COUPLED = ["coupler.slop_deg=3", "motor.output_slop_deg=0.5"]


def asked(rig: str, changes: list[str]) -> Bench:
    scenario = load_rig(rig, changes=changes)
    return bench(scenario, list(scenario.strings)[:1], 1)


def names(found: Bench) -> list[str]:
    return [each.measurement.name for each in found.asked]


def known_keys() -> set[str]:
    """Return every dotted key that some part of the library has, and those of strings."""
    from models.strings.tension import String

    kinds = {
        (section, library.component_class(section, library.part(section, name).kind))
        for section, parts in part_names().items()
        for name in parts
    }
    return {
        f"{section}.{key.name}" for section, kind in [*kinds, ("strings", String)] for key in library.parameters(kind)
    }


KEYS = known_keys() | {  # of heads that the bench can tell before they can be named in a rig
    "head.friction", "head.axial_n", "head.screw_friction",
}  # fmt: skip


@pytest.mark.parametrize("measurement", MEASUREMENTS, ids=lambda each: each.name)
def test_each_says_what_to_do_what_it_settles_and_what_to_mind(measurement: Measurement) -> None:
    assert measurement.do.endswith(".")
    assert measurement.caution.endswith(".")
    assert set(measurement.settles) <= KEYS
    assert ("{setting}" in measurement.do) == bool(measurement.setting)


def test_each_can_be_carried_out_on_the_plant() -> None:
    assert [measurement.name for measurement in MEASUREMENTS] == list(TRIALS)


@pytest.mark.parametrize("rig", library.ready_rigs())
def test_at_most_eight_are_asked_and_each_settles_something_open(rig: str) -> None:
    found = asked(rig, [])
    assert 1 <= len(found.asked) <= MOST
    assert all(each.settles for each in found.asked)
    assert all(band.low <= band.high for each in found.asked for band in each.bands)


def test_what_the_rig_file_gives_is_not_asked() -> None:
    """A number that the user gives is settled; a range that the user gives is open."""
    assert "coupler-wiggle" in names(asked("default", []))
    assert "coupler-wiggle" not in names(asked("default", COUPLED))
    ranged = asked("default", [COUPLED[0], "motor.output_slop_deg={ low = 0.2, high = 0.9 }"])
    wiggle = next(each for each in ranged.asked if each.measurement.name == "coupler-wiggle")
    assert wiggle.settles == ("motor.output_slop_deg",)
    assert 3.2 <= wiggle.bands[0].low < wiggle.bands[0].high <= 3.9  # the two slops add


def test_kinds_decide() -> None:
    """The ideal motor has nothing to measure, a string that slides freely no reversal; a battery's charge is open."""
    assert not {"motor-time", "lifting-weight", "supply-stalled"} & set(names(asked("theory", [])))
    assert not {"reversal", "pressing"} & set(names(asked("default", ["nut.part=free"])))
    assert {"reversal", "pressing"} <= set(names(asked("default", ["nut.part=plastic-nut"])))
    assert "supply-open" in names(asked("default", ["nut.part=free", "supply.part=aa-4"]))
    assert "supply-open" not in names(asked("default", ["nut.part=free"]))


@pytest.mark.parametrize(("rig", "turn_deg"), [("default", 360.0), ("violin", 90.0)])
def test_the_marked_turn_suits_the_head(rig: str, turn_deg: float) -> None:
    """A turn at 18:1 is less than a fifth; at 4:1 it would be up to 17 semitones (independent arithmetic)."""
    scenario = load_rig(rig)
    found = bench(scenario, list(scenario.strings), 1)
    assert found.asked[0].setting == turn_deg


def test_equal_seeds_give_equal_bands() -> None:
    assert asked("ukulele", []) == asked("ukulele", [])
