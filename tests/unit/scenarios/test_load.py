"""The reader of rig files: what it takes, what it refuses, and in which words."""

import itertools
import json
import random
import re
import time
from importlib.resources import files

import pytest

from models.units import cents
from scenarios.errors import RigError
from scenarios.json_schema import rig_schema
from scenarios.load import load_rig, load_text, ready_rigs
from scenarios.schema import Range

RIG = """format = 1
[instrument]
part = "steel-string-guitar"
strings = ["E2", "A2"]
[head]
part = "worm-18"
ratio = 18
[head.by_string.A2]
ratio = 14
[motor]
part = "servo-standard"
[strategies.fine]
kind = "bang-bang"
step_deg = 3
[strategies.fine.by_string.A2]
step_deg = 4.5
"""


def faults(text: str, **options) -> tuple[str, ...]:
    with pytest.raises(RigError) as caught:
        load_text(text, "my.toml", **options)
    return caught.value.lines


def test_a_rig_is_read_with_its_overrides_and_says_what_it_assumed():
    rig = load_text(RIG, "my.toml")
    assert rig.name == "my"
    assert list(rig.strings) == ["E2", "A2"]
    assert [rig.heads[name].nominal().ratio for name in rig.strings] == [18.0, 14.0]
    strategy = rig.strategies[0]
    assert [strategy.controllers[name].nominal().step_deg for name in rig.strings] == [3.0, 4.5]
    assumed = {item.key: item for item in rig.assumed}
    assert "head.ratio" not in assumed
    assert "ISO 16" in assumed["instrument.a4_hz"].source
    assert all(item.source for item in rig.assumed)
    assert len(assumed) == len(rig.assumed)


@pytest.mark.parametrize("name", ready_rigs())
def test_ready_rigs_load_and_every_value_has_a_source(name):
    rig = load_rig(name)
    parts = [rig.setting, rig.coupler, rig.motor, rig.supply, rig.player, rig.acceptance, rig.unit]
    for part in [*parts, *rig.ears.values(), *rig.strings.values(), *rig.heads.values()]:
        assert set(part.values) == set(part.sources)
        assert all(part.sources.values())
        part.nominal()


@pytest.mark.parametrize(
    ("old", "new", "where", "words"),
    [
        ("ratio = 18", "gear_ratio = 18", "my.toml:7  head.gear_ratio", "it is called ratio"),
        ("ratio = 18", "ratoi = 18", "my.toml:7  head.ratoi", "did you mean ratio?"),
        ("ratio = 18", 'ratio = "18"', "my.toml:7  head.ratio", "at least 1, at most 60"),
        ("ratio = 18", "ratio = true", "my.toml:7  head.ratio", "at least 1, at most 60"),
        ("ratio = 18", "ratio = nan", "my.toml:7  head.ratio", "finite"),
        ("ratio = 18", "ratio = 1e400", "my.toml:7  head.ratio", "finite"),
        ("ratio = 18", "ratio = 1,8", "my.toml:7", "decimal comma; write 1.8"),
        ("ratio = 18", 'ratio = "1,8"', "my.toml:7  head.ratio", "decimal comma"),
        ("ratio = 18", "ratio = { low = 20, high = 10 }", "my.toml:7  head.ratio", "low comes first"),
        ("ratio = 18", "ratio = { low = 20, high = 1000 }", "my.toml:7  head.ratio", "at most 60"),
        ("ratio = 18", "ratio = { low = 20 }", "my.toml:7  head.ratio", "{ low = ..., high = ... }"),
        ("step_deg = 3", "step_deg = { low = 1, high = 2 }", "my.toml:14  strategies.fine.step_deg", "one value"),
        ('"worm-18"', '"wurm-18"', "my.toml:6  head.part", "did you mean worm-18?"),
        ('"bang-bang"', '"bang"', "my.toml:13  strategies.fine.kind", "allowed: bang-bang"),
        ('["E2", "A2"]', '["E2", "E2"]', "my.toml:4  instrument.strings[1]", "twice"),
        ('["E2", "A2"]', '["E9"]', "my.toml:4  instrument.strings[0]", "allowed: E2"),
        ("by_string.A2]\nratio", "by_string.X]\nratio", "my.toml:8  head.by_string.X", "unknown string"),
        ("format = 1", "format = 2", "my.toml:1  format", "format = 1"),
        ("format = 1", "", "my.toml:1  format", "missing"),
        ("[motor]", "[moter]", "my.toml:10  moter", "did you mean motor?"),
        ("[strategies.fine]", "[strategies.'a b']", "my.toml:12  strategies.a b", "is no name"),
    ],
)
def test_one_fault_gives_its_line_key_and_what_is_allowed(old, new, where, words):
    assert old in RIG
    lines = faults(RIG.replace(old, new, 1))
    assert any(line.startswith(where) and words in line for line in lines), lines
    assert all(re.match(r"my\.toml(:\d+)?  ", line) and "\n" not in line for line in lines)


def test_all_faults_are_said_at_once_in_order_of_lines():
    text = RIG.replace("ratio = 18", "ratio = -1").replace("step_deg = 3", "step_deg = -2")
    lines = faults(text)
    assert [line.split("  ")[0] for line in lines] == ["my.toml:7", "my.toml:14"]


def test_missing_keys_of_an_own_string_stand_at_its_table():
    lines = faults('format = 1\n\n[strings.X]\ntarget = "A4"\nmaterial = "steel"\n')
    assert any(line.startswith("my.toml:3  strings.X.gauge_mm  missing") for line in lines)


def test_own_string_gets_weight_and_strength_from_gauge_and_material():
    """Plain steel: rho pi d^2 / 4 with 7800 to 7850 kg/m3; A228 row of .012 in 377 to 417 ksi."""
    text = """format = 1
[strings.X]
target = "330.5 Hz"
material = "steel"
gauge_mm = 0.3048
length_mm = 648
total_length_mm = 720
t60_s = 5
"""
    string = load_text(text, "my.toml").strings["X"]
    weight = string.values["unit_weight_g_per_m"]
    assert isinstance(weight, Range)
    assert (weight.low, weight.high) == pytest.approx((0.56913, 0.57278), rel=1e-4)
    assert string.values["core_mm"] == 0.3048
    strength = string.values["strength_mpa"]
    assert isinstance(strength, Range)
    assert (strength.low, strength.high) == pytest.approx((2599.3, 2875.1), rel=1e-3)


def test_another_gauge_is_another_string():
    """The published weight of a library string does not survive a change of its gauge."""
    plain = load_text(RIG, "my.toml").strings["E2"].nominal()
    thick = load_text(RIG + "[strings.E2]\ngauge_mm = 1.6\n", "my.toml").strings["E2"].nominal()
    assert thick.unit_weight_g_per_m > 1.2 * plain.unit_weight_g_per_m


@pytest.mark.parametrize(("key", "value"), [("gauge_mm", 0.3), ("core_mm", 2.0)])
def test_core_thicker_than_the_string_is_refused(key, value):
    lines = faults(RIG + f"[strings.E2]\n{key} = {value}\n")
    assert any("core_mm" in line and "less than the gauge" in line for line in lines)


def test_pure_fifths_of_the_violin():
    """A pure fifth is 701.955 cents (3/2)."""
    from sim.build import build

    rig = load_text('format = 1\n[instrument]\npart = "violin"\ntuning = "pure-fifths"\n', "v.toml")
    hertz = [build(rig, name).chain.string.target_hz for name in rig.strings]
    steps = [cents(high, low) for low, high in itertools.pairwise(hertz)]
    assert [abs(step) for step in steps] == pytest.approx([701.955] * 3, abs=0.01)


def test_reference_pitch_moves_every_target():
    from sim.build import build

    rig = load_text(RIG.replace("[head]", "a4_hz = 415\n[head]", 1), "my.toml")
    assert build(rig, "A2").chain.string.target_hz == pytest.approx(415 / 4)


def test_changes_win_and_their_faults_name_them():
    rig = load_text(RIG, "my.toml", changes=["head.ratio=20"])
    assert rig.heads["E2"].nominal().ratio == 20.0
    assert rig.text == RIG + "# --set head.ratio=20\n"
    lines = faults(RIG, changes=["head.ratio=-3"])
    assert lines == ("--set head.ratio=-3  head.ratio  found -3; allowed: at least 1, at most 60",)
    assert "KEY=VALUE" in faults(RIG, changes=["nonsense"])[0]
    assert "did you mean ratio?" in faults(RIG, changes=["head.ratoi=3"])[0]


@pytest.mark.parametrize(
    "raw",
    [
        b"\xff\xfe",
        b"a = ",
        b"a = 1\rb = 2\r",
        b"a = " + b"[" * 5000,
        b"a = " + b"9" * 5000,
        b"x" * 300_000,
        b"[a]\n[a]",
    ],
)
def test_files_that_are_no_rig_give_one_line(tmp_path, raw):
    path = tmp_path / "odd.toml"
    path.write_bytes(raw)
    with pytest.raises(RigError) as caught:
        load_rig(path)
    assert len(caught.value.lines) >= 1
    assert all(line.startswith(str(path)) for line in caught.value.lines)


def test_byte_order_mark_and_windows_line_ends_are_taken(tmp_path):
    path = tmp_path / "win.toml"
    path.write_bytes(b"\xef\xbb\xbf" + RIG.replace("\n", "\r\n").encode())
    assert load_rig(path).heads["E2"].nominal().ratio == 18.0


def test_missing_file_and_unknown_rig():
    with pytest.raises(RigError, match=r"no file and no ready rig.*did you mean violin"):
        load_rig("violine")
    with pytest.raises(RigError, match="cannot be read"):
        load_rig("nowhere/none.toml")


def test_five_hundred_mutated_files_give_faults_or_rigs_and_never_hang():
    chance = random.Random(20261125)
    alphabet = RIG + "{}[]=\"'#,.\\\n\t\x00é∞"
    start = time.perf_counter()
    for _ in range(500):
        text = list(RIG)
        for _ in range(chance.randint(1, 6)):
            place = chance.randrange(len(text))
            action = chance.randrange(3)
            if action == 0:
                text[place] = chance.choice(alphabet)
            elif action == 1:
                text.insert(place, chance.choice(alphabet) * chance.randint(1, 30))
            else:
                del text[place : place + chance.randint(1, 12)]
        try:
            load_text("".join(text), "mutated.toml")
        except RigError as error:
            assert error.lines
            assert all("\n" not in line for line in error.lines)
    assert time.perf_counter() - start < 60.0


def test_a_likely_slip_of_units_is_said():
    from scenarios.slips import warnings

    rig = load_text(RIG.replace("[strategies.fine]", "stall_torque_ref_nm = 9.4\n[strategies.fine]", 1), "my.toml")
    assert any("kgf cm would be 0.922 N m" in warning for warning in warnings(rig))
    assert warnings(load_text(RIG, "my.toml")) == ()
    lines = faults(RIG + "[strings.E2]\nlength_mm = 25.5\n")
    assert any("25.5 inch would be 648 mm" in line for line in lines)


def test_shipped_schema_is_the_one_that_the_components_give():
    shipped = json.loads(files("scenarios").joinpath("rig.schema.json").read_text("utf-8"))
    assert shipped == json.loads(json.dumps(rig_schema()))


def test_scenarios_pickle():
    import pickle

    rig = load_text(RIG, "my.toml")
    assert pickle.loads(pickle.dumps(rig)) == rig


def test_values_that_do_not_fit_together_are_said_at_their_table():
    lines = faults(RIG.replace("[strategies.fine]", "run_current_a = 5.0\n[strategies.fine]", 1))
    assert lines == ("my.toml:10  motor  run_current_a lies above stall_current_a; a motor draws most at stall",)
