"""Drift: creep in cents at any tension, climate as strain; and how rig files name them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.strings.climate import Climate
from models.strings.creep import Creep
from models.strings.drift import Drift, drift
from models.strings.tension import SLACK_N, strung
from models.units import cents, midi_hz
from scenarios.errors import RigError
from scenarios.load import load_text
from sim.build import build
from sim.seeds import Streams
from tests.loop.rigs import E4, changed

STRING = strung(E4, 2.873, midi_hz(64))
TARGET_N = STRING.tension_at_hz(STRING.target_hz)
SETTLED = Creep(cents_per_decade=0.0, onset_s=60.0)
NEW = Creep(cents_per_decade=40.0, onset_s=60.0)
STEADY = Climate(
    string_change_k=0.0, body_change_k=0.0, string_expansion_ppm_k=12.0, body_expansion_ppm_k=4.0,
    string_pace_s=20.0, body_pace_s=600.0,
)  # fmt: skip
LATE_S = 1e9


@given(tension_n=st.floats(1.0, 100.0), seconds=st.floats(0.0, 1e6))
def test_a_string_creeps_by_the_same_cents_at_any_tension(tension_n: float, seconds: float) -> None:
    crept_n = tension_n + Drift(STRING, NEW, STEADY).newton(tension_n, seconds)
    fallen = cents(STRING.first_partial_hz(crept_n), STRING.first_partial_hz(tension_n))
    assert fallen == approx(NEW.cents(seconds), abs=1e-8)


@given(tension_n=st.floats(-10.0, SLACK_N, exclude_max=True))
def test_a_slack_string_does_not_creep(tension_n: float) -> None:
    assert Drift(STRING, NEW, STEADY).newton(tension_n, 1e4) == 0.0


@pytest.mark.parametrize(("body_ppm_k", "per_kelvin"), [(4.0, -0.99), (12.0, 0.0), (20.0, 0.99)])
def test_a_kelvin_more_moves_a_steel_string_as_the_expansions_say(body_ppm_k: float, per_kelvin: float) -> None:
    """``-(600/ln 2)(EA/T)(alpha_s - alpha_b)`` at EA/T 142.9: -0.99 cents/K for steel (12 ppm/K, A228) on wood (4).

    Mersenne's derivative; stretching also thins the string, which adds T/EA to it, 0.7 %.
    """
    string = changed(STRING, ea_n=142.9 * TARGET_N)
    warmer = changed(STEADY, string_change_k=1.0, body_change_k=1.0, body_expansion_ppm_k=body_ppm_k)
    warm_n = TARGET_N + Drift(string, SETTLED, warmer).newton(TARGET_N, LATE_S)
    moved = cents(string.first_partial_hz(warm_n), string.first_partial_hz(TARGET_N))
    assert moved == approx(per_kelvin, abs=0.01)
    strain = -(12.0 - body_ppm_k) * 1e-6
    assert moved == approx(600.0 / math.log(2.0) * (142.9 + 142.9 / 143.9) * strain, rel=1e-3, abs=1e-9)


def test_nothing_drifts_that_is_settled_and_steady() -> None:
    assert drift(STRING, SETTLED, STEADY) is None
    assert drift(STRING, NEW, STEADY) is not None
    assert drift(STRING, SETTLED, changed(STEADY, body_change_k=1.0)) is not None


RIG = 'format = 1\n[strategies.fine]\nkind = "proportional"\n'
NEW_STEEL = '[creep]\npart = "new-steel"\n'
LAMPS = '[climate]\npart = "under-lamps"\n'


def test_a_rig_that_names_neither_does_not_drift() -> None:
    rig = load_text(RIG, "my.toml")
    assert build(rig, "E2", Streams(1), 3).chain.drift is None
    assert {("creep.part", "old"), ("climate.part", "steady")} <= {(each.key, each.value) for each in rig.assumed}


def test_each_string_creeps_in_its_own_way_and_all_are_in_one_climate() -> None:
    rig = load_text(RIG + NEW_STEEL + LAMPS, "my.toml")
    found = [build(rig, string, Streams(1), 3).chain.drift for string in ("E2", "E4")]
    low, high = (each for each in found if each is not None)
    assert low.creep != high.creep
    assert low.climate == high.climate
    assert 3.0 <= low.creep.cents_per_decade <= 5.0


def test_one_string_may_be_new() -> None:
    rig = load_text(RIG + "[creep.by_string.E4]\ncents_per_decade = 4.0\n", "my.toml")
    assert build(rig, "E2").chain.drift is None
    assert build(rig, "E4").chain.drift is not None


@pytest.mark.parametrize(
    ("added", "said"),
    [
        ("[creep]\ncents_per_decade = -1\n", "creep.cents_per_decade  found -1; allowed: at least 0"),
        ("[creep]\nonset_s = 0\n", "creep.onset_s  found 0; allowed: above 0"),
        ("[creep.by_string.E9]\nonset_s = 1\n", "creep.by_string.E9  unknown string"),
        ("[climate]\nbody_change_k = 300\n", "climate.body_change_k  found 300; allowed: at least -60, at most 60"),
        ("[climate]\nwarmth_k = 3\n", "climate.warmth_k  unknown key"),
        ('[climate]\npart = "desert"\n', "allowed: steady, from-the-cold, under-lamps"),
    ],
)
def test_what_is_wrong_is_said_in_a_line(added: str, said: str) -> None:
    with pytest.raises(RigError) as refused:
        load_text(RIG + added, "my.toml")
    (line,) = refused.value.lines
    assert line.startswith("my.toml:")
    assert said in line
