"""The library of parts: whole, sourced, and buildable at both ends of every range."""

import subprocess
import sys
import tomllib
from dataclasses import fields
from itertools import pairwise

import pytest

from controllers import CONTROLLERS
from models.head.gear import Head
from models.hearing import EARS
from models.messages import Spin
from models.motors import MOTORS
from models.units import cents, target_hz
from scenarios import library
from scenarios.library import LibraryPart, Sourced, component_class, parameters, part, part_names
from scenarios.schema import FORMAT, Part, Range

SECTIONS = tuple(part_names())
PARTS = [part(section, name) for section, names in part_names().items() for name in names]
INSTRUMENTS = part_names()["instrument"]
WRAP = {"density_kg_m3"}  # all that is known of a material that only winds
WHOLE = [found for found in PARTS if set(found.values) != WRAP or found.section != "material"]


def named(found: LibraryPart) -> str:
    return f"{found.section}-{found.name}"


def sourced(found: LibraryPart) -> list[Sourced]:
    values = list(found.values.values())
    if found.section == "instrument":
        for string in library.instrument(found.name).strings.values():
            values += string.values()
    return values


@pytest.mark.parametrize("found", WHOLE, ids=named)
def test_a_part_has_every_field_of_its_class_and_no_other(found: LibraryPart) -> None:
    wanted = {parameter.name for parameter in parameters(component_class(found.section, found.kind))}
    assert set(found.values) == wanted


@pytest.mark.parametrize("found", WHOLE, ids=named)
def test_a_part_can_be_built_at_both_ends_and_in_the_middle(found: LibraryPart) -> None:
    kind = component_class(found.section, found.kind)
    values = {key: value.value for key, value in found.values.items()}
    for share in (0.0, 0.5, 1.0):
        built = Part(found.section, kind, values, {}).drawn(lambda key, share=share: share)
        assert isinstance(built, kind)


@pytest.mark.parametrize("found", PARTS, ids=named)
def test_a_part_says_in_a_line_what_it_is(found: LibraryPart) -> None:
    assert 0 < len(found.about) <= 70
    assert found.about.isprintable()


@pytest.mark.parametrize("found", PARTS, ids=named)
def test_every_value_has_a_source_and_every_range_two_ends(found: LibraryPart) -> None:
    for value in sourced(found):
        assert len(value.source.strip()) > 4
        if isinstance(value.value, Range):
            assert value.value.low < value.value.high


@pytest.mark.parametrize("section", ["task", "require", "strategy", "driving"])
def test_what_is_chosen_has_no_range(section: str) -> None:
    for name in part_names()[section]:
        assert not any(isinstance(value.value, Range) for value in part(section, name).values.values())


@pytest.mark.parametrize("section", sorted(set(SECTIONS) - {"material", "strategy", "driving"}))
def test_the_default_part_exists(section: str) -> None:
    assert library.default(section) in part_names()[section]


@pytest.mark.parametrize("section", ["material", "strategy", "driving"])
def test_a_choice_without_a_usual_one_has_no_default(section: str) -> None:
    with pytest.raises(KeyError):
        library.default(section)


@pytest.mark.parametrize(("section", "registry"), [("motor", MOTORS), ("ear", EARS), ("strategy", CONTROLLERS)])
def test_every_registered_kind_has_a_part(section: str, registry: dict[str, str]) -> None:
    assert {part(section, name).kind for name in part_names()[section]} == set(registry)


def test_every_kind_of_controller_has_a_driving_that_suits_what_it_asks() -> None:
    assert set(part_names()["driving"]) == set(CONTROLLERS)
    for kind in CONTROLLERS:
        spins = Spin in component_class("strategy", kind).asks
        assert (part("driving", kind).values["driving"].value == "turning") == spins


def test_names_are_found_over_all_sections_and_unknown_ones_refused() -> None:
    assert {found.section for found in library.find("proportional")} == {"strategy", "driving"}
    assert library.find("no-such-part") == ()
    for look in (lambda: part("head", "no-such"), lambda: library.instrument("no"), lambda: library.wire("no")):
        with pytest.raises(KeyError):
            look()


@pytest.mark.parametrize("section", [("motor", "no-such"), ("motor", None), ("no-such", None)])
def test_an_unknown_class_is_refused(section: tuple[str, str | None]) -> None:
    with pytest.raises(KeyError):
        component_class(*section)


def test_parameters_say_unit_bounds_and_words() -> None:
    known = {parameter.name: parameter for parameter in parameters(Head)}
    assert list(known) == [field.name for field in fields(Head)]
    assert known["ratio"].allowed == "at least 1, at most 60"
    assert known["post_radius_mm"].allowed == "above 0.5, below 20"
    assert known["backlash_deg"].unit == "deg"
    assert known["tightens"].allowed == "clockwise, anticlockwise or unknown"
    assert known["ratio"].numeric
    assert not known["tightens"].numeric
    assert all(parameter.doc for parameter in known.values())


def test_a_class_without_parameters_has_none() -> None:
    class Plain:
        pass

    assert parameters(Plain) == ()


def test_a_motor_on_the_post_itself_has_no_gear_to_lock() -> None:
    direct = {key: sourced.value for key, sourced in part("head", "direct").values.items()}
    assert direct["ratio"] == 1
    assert not Head(**direct | {"post_radius_mm": 3.0, "post_friction_nmm": 5.0, "ratio": 1.0}).self_locking()


@pytest.mark.parametrize("name", [name for name in part_names()["head"] if name != "direct"])
def test_every_head_locks_at_its_worst_corner(name: str) -> None:
    """A worm or screw locks when the lead angle is below the friction angle; then a hand may re-grip in peace."""
    found = part("head", name)
    values = {key: sourced.value for key, sourced in found.values.items()}
    slick = Part("head", component_class("head", found.kind), values, {}).drawn(
        lambda key: 0.0 if key.rpartition(".")[2] in ("worm_friction", "screw_friction", "screw_diameter_mm") else 1.0
    )
    assert slick.self_locking()


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_an_instrument_names_parts_that_exist(name: str) -> None:
    found = library.instrument(name)
    assert found.head in part_names()["head"]
    for string in found.strings.values():
        assert {"gauge_mm", "length_mm", "total_length_mm", "unit_weight_g_per_m", "t60_s"} <= set(string)
        assert ("wrap" in string) == ("core_mm" in string)
        assert {string[key].value for key in ("material", "wrap") if key in string} <= set(part_names()["material"])


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_every_tuning_has_a_readable_target_for_each_string(name: str) -> None:
    found = library.instrument(name)
    assert "equal" in found.tunings
    for targets in found.tunings.values():
        assert len(targets) == len(found.strings)
        for string, target in zip(found.strings, targets, strict=True):
            assert target.startswith(string.rstrip("ab"))
            assert abs(cents(target_hz(target, 440.0), target_hz(string.rstrip("ab"), 440.0))) < 5.0


@pytest.mark.parametrize("name", ["violin", "mandolin"])
def test_pure_fifths_are_in_the_ratio_three_to_two(name: str) -> None:
    """Definition of the pure fifth; targets are printed to 0.001 cent."""
    hertz = sorted({target_hz(target, 440.0) for target in library.instrument(name).tunings["pure-fifths"]})
    assert len(hertz) == 4
    for low, high in pairwise(hertz):
        assert cents(high, low * 1.5) == pytest.approx(0.0, abs=0.002)


def test_wire_gets_weaker_as_it_gets_thicker() -> None:
    """ASTM A228: strength falls with diameter; the .010 in row reads 387 to 428 ksi."""
    rows = library.wire("a228").rows
    for thin, thick in pairwise(rows):
        assert thin[0] < thick[0]
        assert thin[1] > thick[1]
        assert thin[2] > thick[2]
    assert next(row for row in rows if row[0] == pytest.approx(0.254)) == pytest.approx(
        (0.254, 2668.3, 2951.0), abs=0.06
    )


@pytest.mark.parametrize("name", library.ready_rigs())
def test_a_ready_rig_is_toml_of_this_format_that_calls_itself_invented(name: str) -> None:
    text = library.ready_rig_text(name)
    assert tomllib.loads(text)["format"] == FORMAT
    assert "nvented example" in " ".join(text.split())


def test_every_instrument_has_a_ready_rig() -> None:
    used = {tomllib.loads(library.ready_rig_text(name))["instrument"]["part"] for name in library.ready_rigs()}
    assert used == set(INSTRUMENTS)


def test_an_unknown_ready_rig_is_refused() -> None:
    with pytest.raises(KeyError):
        library.ready_rig_text("no-such-rig")


def test_usual_strategies_are_those_of_the_default_rig() -> None:
    assert library.usual_strategies() == tomllib.loads(library.ready_rig_text("default"))["strategies"]


def test_names_of_parts_load_nothing_heavy() -> None:
    code = "import sys, scenarios.library as l; l.part_names(); l.ready_rigs(); print(sorted(sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "scenarios.library" in found
    for heavy in ("numpy", "scipy", "pydantic", "matplotlib", "simpy"):
        assert f"'{heavy}'" not in found
