"""Two ears, one truth: a statistical ear fitted to the signal ear errs and tunes as it does, within stated margins.

Sameness is an interval inside a margin. Tables that are wrong on purpose must fail, or the check says nothing.
"""

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from models.hearing.base import Window
from models.instrument import Instrument
from models.units import to_ns
from scenarios.load import load_rig
from scenarios.schema import Part, Scenario
from sim.build import build
from sim.hearing.fit import fitted
from sim.hearing.listened import Sizes
from sim.hearing.sameness import Cell, cells, in_the_loop
from sim.seeds import Chance, Streams

SPREADS = ("run_cents", "glide_run_cents", "pluck_cents", "wander_cents", "reading_cents")
FIT, FRESH = Streams(3), Streams(4)
LEVELS = 4
Ears = Mapping[str, Part]


@pytest.fixture(scope="module")
def rig() -> Scenario:
    return load_rig("default", ear="signal")


@pytest.fixture(scope="module")
def ears(rig: Scenario) -> Ears:
    """Return the ears of all strings: 5,400 readings of each."""
    return {string: fitted(rig, string, FIT, Sizes(300, 2, 3)) for string in rig.strings}


def changed(ear: Part, **values: float) -> Part:
    return replace(ear, values={**ear.values, **values})


def louder(ear: Part, times: float) -> Part:
    """Return an ear whose every spread is so many times as wide."""
    return changed(ear, **{name: times * ear.values[name] for name in SPREADS})


def unrelated(ear: Part) -> Part:
    """Return an ear of the same spread whose readings of one pluck have no more in common than those of two."""
    both = math.hypot(ear.values["pluck_cents"], ear.values["wander_cents"])
    return changed(ear, pluck_cents=0.0, wander_cents=both)


def compared(rig: Scenario, ears: Ears, sizes: Sizes, levels: int) -> list[Cell]:
    return [cell for string in ears for cell in cells(rig, ears, string, FRESH, sizes, levels)]


def different(found: list[Cell]) -> set[tuple[str, str]]:
    return {
        (cell.string, each.measure)
        for cell in found
        for each in cell.differences
        if each.verdict() == "different"
    }  # fmt: skip


def test_a_small_fit_is_not_refuted_and_one_twice_as_noisy_is(rig: Scenario) -> None:
    """Few readings cannot show sameness; they can show that nothing is grossly wrong on the way."""
    ear = fitted(rig, "E4", FIT, Sizes(40, 2, 2))
    assert different(compared(rig, {"E4": ear}, Sizes(60, 2, 2), levels=1)) == set()
    assert different(compared(rig, {"E4": louder(ear, 2.0)}, Sizes(60, 2, 2), levels=1)) == {("E4", "spread")}


@pytest.mark.slow
def test_both_ears_err_alike(rig: Scenario, ears: Ears) -> None:
    """At least 20 cells of at least 1,000 readings, every interval inside its margin."""
    found = compared(rig, ears, Sizes(300, 3, 3), LEVELS)
    assert len(found) >= 20 and min(cell.readings for cell in found) >= 1000
    assert [cell for cell in found if cell.verdict() != "same"] == []


@pytest.mark.slow
def test_a_table_half_as_noisy_again_fails(rig: Scenario, ears: Ears) -> None:
    found = compared(rig, {string: louder(ear, 1.5) for string, ear in ears.items()}, Sizes(300, 2, 3), levels=1)
    assert different(found) == {(string, "spread") for string in ears}


@pytest.mark.slow
def test_a_table_without_correlation_within_a_pluck_fails(rig: Scenario, ears: Ears) -> None:
    """On strings whose beats last longer than a reading; the others have little to lose."""
    related = {name: ear for name, ear in ears.items() if ear.values["pluck_cents"] > ear.values["wander_cents"] * 0.9}
    assert len(related) >= 2
    found = compared(rig, {string: unrelated(ear) for string, ear in related.items()}, Sizes(300, 3, 3), levels=1)
    assert different(found) == {(string, "correlation") for string in related}


@pytest.mark.slow
@pytest.mark.parametrize("strategy", ["fine", "proportional"])
def test_both_ears_tune_alike(rig: Scenario, ears: Ears, strategy: str) -> None:
    found = in_the_loop(rig, ears, strategy, specimens=400, seed=8)
    assert [(each.measure, each.verdict()) for each in found] == [("in tune", "same"), ("plucks", "same")]


@pytest.mark.slow
def test_a_much_noisier_table_tunes_worse(rig: Scenario, ears: Ears) -> None:
    """The loop forgives: the glide that all plucks share decides the end, and half as much noise again hides in 5 %.

    So cells decide on sameness, and the loop only confirms it; three times the noise shows in the loop as well.
    """
    noisier = {string: louder(ear, 3.0) for string, ear in ears.items()}
    in_tune, _ = in_the_loop(rig, noisier, "proportional", specimens=150, seed=8)
    assert in_tune.verdict() == "different" and in_tune.high < 0.0


@pytest.mark.slow
def test_periodicity_tells_the_ratio_of_the_powers(rig: Scenario, ears: Ears) -> None:
    """Independent arithmetic: tones over noise, as the circuit and the steps of the converter make them.

    Within 3 dB: beats and decay also take periodicity away, and the fit sees them as noise.
    """
    for string, ear in ears.items():
        powers = [_ratio_db(rig, string, specimen) for specimen in range(30)]
        assert ear.values["fresh_snr_db"] == pytest.approx(np.mean(powers), abs=3.0)


def _ratio_db(rig: Scenario, string: str, specimen: int) -> float:
    """Return the power of the tones of a usual pluck over the noise's, re the level of the note."""
    built = build(rig, string, FIT, specimen)
    instrument = Instrument({string: built.chain}, {string: built.begins(0.0).angles})
    instrument.pluck(string, 0, 0.0)
    opens_ns = to_ns(built.ear.skip_s)
    window = Window(string, opens_ns, opens_ns + to_ns(built.ear.window_s), 0, 0)
    tones = replace(built.ear, noise_scale=0.0).volts(instrument, window, Chance(FIT, string, specimen))
    noise = float(np.sum(built.ear.noise_v**2)) + built.ear.converter.step_v() ** 2 / 12.0
    return 10.0 * math.log10(float(np.mean(tones**2)) / noise) - instrument.note(string, window.centre_ns())[1]
