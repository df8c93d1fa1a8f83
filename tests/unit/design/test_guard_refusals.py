"""Guards of a rig file that come too late or have no sensor are refused in one line; and what the limits are."""

import pytest

from scenarios.errors import RigError
from scenarios.load import load_rig, load_text
from scenarios.schema import Scenario
from sim.build import build
from sim.design.current_limit import breaking_a
from sim.design.guard_limits import kind_of, limits, named_guards
from sim.design.guard_refusals import breaking_turn_deg, reserve_cents
from sim.design.refusals import doubts, refusals

RIG = """format = 1
[instrument]
part = "steel-string-guitar"
[motor]
part = "servo-standard"
[guards.mine]
"""


def guarded(lines: str) -> Scenario:
    """Return a rig with such a guard."""
    return load_text(RIG + lines, "my.toml")


def with_guard(kind: str, *numbers: str, rig: str = "default") -> Scenario:
    """Return a ready rig with a guard that it calls *g*."""
    return load_rig(rig, changes=[f'guards.g.kind="{kind}"', *(f"guards.g.{number}" for number in numbers)])


def test_a_guard_of_a_rig_file_keeps_what_it_is_given_and_derives_the_rest():
    rig = guarded('kind = "tightening-budget"\nmost_deg = 123\n')
    found = named_guards(rig, rig.strategies[0], "E2")["mine"]
    usual = limits(load_text(RIG.replace("[guards.mine]", ""), "my.toml"), rig.strategies[0], "E2")
    assert kind_of(rig.guards["mine"]) == "tightening-budget"
    assert _numbers(found) == {**_numbers(usual["tightening-budget"].guard), "most_deg": 123}


def _numbers(guard: object) -> dict[str, float]:
    return {key: getattr(guard, key) for key in ("most_deg", "cents_per_deg", "low_cents", "high_cents", "net")}


def test_a_kind_alone_suffices():
    rig = guarded('kind = "motor-current"')
    assert (
        named_guards(rig, rig.strategies[0], "E4")["mine"]
        == limits(rig, rig.strategies[0], "E4")["motor-current"].guard
    )
    assert refusals(rig) == ()


def test_a_rig_without_guards_has_none():
    rig = load_rig("default")
    assert rig.guards == {}
    assert named_guards(rig, rig.strategies[0], "E4") == {}


@pytest.mark.parametrize(
    ("lines", "place", "says"),
    [
        ('kind = "motor-curent"', "my.toml:7", "did you mean motor-current?"),
        ('kind = "silence"\nmost_silent = 1', "my.toml:8", "did you mean most_silent_s?"),
        ('kind = "pitch-ceiling"\nmost_cents = -3', "my.toml:8", "found -3; allowed: above 0"),
        ('kind = "hand-switch"\nmost_deg = {low = 3, high = 4}', "my.toml:8", "one value is needed here"),
        ('kind = "no-response"\nin_a_row = 0', "my.toml:8", "found 0; allowed: a whole number, at least 1"),
        ("most_deg = 1", "my.toml:6", "guards.mine.kind  missing; allowed: largest-turn"),
    ],
)
def test_a_wrong_table_is_refused_in_one_line_with_its_place(lines: str, place: str, says: str):
    with pytest.raises(RigError) as caught:
        guarded(lines)
    assert len(caught.value.lines) == 1
    assert caught.value.lines[0].startswith(place)
    assert says in caught.value.lines[0]


@pytest.mark.parametrize(
    ("kind", "key", "unit"),
    [
        ("pitch-ceiling", "most_cents", "cents"),
        ("tightening-budget", "most_deg", "deg"),
        ("largest-turn", "most_deg", "deg"),
        ("hand-switch", "most_deg", "deg"),
        ("motor-current", "most_a", "A"),
    ],
)
def test_a_limit_beyond_breaking_is_refused_with_its_place_and_the_worst_string(kind: str, key: str, unit: str):
    rig = guarded(f'kind = "{kind}"\n{key} = 5000')
    bound = {"cents": reserve_cents, "deg": breaking_turn_deg, "A": breaking_a}[unit]
    worst = min(rig.strings, key=lambda string: bound(rig, string))
    (line,) = refusals(rig)
    assert line.startswith(f"my.toml:8  guards.mine.{key}  found 5000 {unit}; ")
    assert worst in line
    allowed = float(line.rsplit(" ", 1)[1])
    assert bound(rig, worst) * 0.98 < allowed <= bound(rig, worst)
    assert refusals(guarded(f'kind = "{kind}"\n{key} = {0.99 * allowed}')) == ()


def test_only_the_strings_that_are_tuned_count():
    rig = with_guard("pitch-ceiling", "most_cents=5000")
    assert "E4" in refusals(rig, None, ("E4",))[0]
    low, high = sorted(reserve_cents(rig, string) for string in ("E2", "E4"))
    between = with_guard("pitch-ceiling", f"most_cents={(low + high) / 2}")
    assert sorted(len(refusals(between, None, (string,))) for string in ("E2", "E4")) == [0, 1]


def test_the_turn_that_breaks_a_string_breaks_it_and_a_hair_less_does_not():
    """Where nut and coupler are rigid, tension is in proportion to the turn: independent arithmetic."""
    rig = load_rig("default", changes=['nut.part="free"'])
    found, chain = breaking_turn_deg(rig, "E4"), build(rig, "E4").chain
    low_hz = chain.string.target_hz * 2.0 ** (-60.0 / 1200.0)
    way_n = chain.string.breaking_n - chain.string.tension_at_hz(low_hz)
    assert rig.setting.value("start_cents", lambda key: 0.0) == -60.0
    assert found == pytest.approx(way_n / chain.newton_per_deg * chain.ratio, rel=1e-3)
    begins = chain.at(chain.string.tension_at_hz(low_hz), 0.0)
    assert chain.broken(chain.follow(begins, found))
    assert not chain.broken(chain.follow(begins, 0.999 * found))


@pytest.mark.parametrize("kind", ["motor-current", "supply-voltage"])
@pytest.mark.parametrize("rig", ["direct-drive", "plain-stepper"])
def test_a_guard_whose_sensor_tells_nothing_is_refused(kind: str, rig: str):
    (line,) = refusals(with_guard(kind, rig=rig))
    assert f"guards.g.kind  found {kind}; the motor has no current" in line
    assert "allowed: largest-turn" in line
    assert kind not in line.partition("allowed:")[2]


def test_building_such_a_guard_all_the_same_is_one_clear_error():
    rig = with_guard("motor-current", rig="plain-stepper")
    with pytest.raises(ValueError, match=r"guards\.g: \S+ cannot have motor-current"):
        named_guards(rig, rig.strategies[0], next(iter(rig.strings)))


def test_a_derived_limit_beyond_breaking_is_a_doubt_and_no_refusal():
    """A hand looks for a whole turn at least; a direct drive breaks the string in a seventh of it."""
    rig = with_guard("hand-switch", rig="direct-drive")
    assert refusals(rig) == ()
    (line,) = [line for line in doubts(rig, ()) if line.startswith("guards.g.most_deg")]
    assert "360 deg" in line


def test_a_session_has_no_guards():
    rig = load_rig("default", changes=['guards.g.kind="silence"'], session=True)
    assert refusals(rig) == (
        "guards  found in a session; allowed: strings by themselves; leave out --session or [guards]",
    )


def test_a_rule_says_what_the_file_gave():
    rule = limits(with_guard("tightening-budget", "most_deg=99"), load_rig("default").strategies[0], "E4")
    assert rule["tightening-budget"].rule.startswith("most_deg = 99: given in the rig file; else 1.5 times")
    assert "given" not in rule["pitch-ceiling"].rule


def test_a_string_that_breaks_below_its_target_can_have_no_ceiling():
    high = ("instrument.a4_hz=600.0",)
    rig = load_rig("default", changes=[*high, 'guards.g.kind="pitch-ceiling"', "guards.g.most_cents=100.0"])
    (line,) = refusals(rig, None, ("E4",))
    assert "guards.g.kind  found pitch-ceiling; the string breaks below its target, on E4" in line
    assert "pitch-ceiling" not in limits(rig, rig.strategies[0], "E4")


def test_a_string_that_starts_at_its_breaking_tension_has_no_turn_left():
    rig = load_rig(
        "default",
        changes=["instrument.start_cents=1200.0", 'guards.g.kind="largest-turn"', "guards.g.most_deg=9.0"],
    )
    (line,) = refusals(rig, None, ("E4",))
    assert line.endswith("found 9 deg; E4 is at its breaking tension as it starts")
