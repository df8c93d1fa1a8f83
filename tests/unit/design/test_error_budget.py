"""The error budget: each share by its closed form, how shares are combined, and the total against simulation."""

import math

import numpy as np
import pytest

from models.units import cents
from scenarios.load import load_rig
from sim.build import build
from sim.design.error_budget import Budget, error_budget
from sim.design.facts import describe
from sim.design.share import P95, Share
from sim.evaluate import Bench
from sim.loop import Record
from sim.series.row import Item
from sim.trace import Outcome

SPECIMENS = 25
FREE = 'nut.part="free"'
SQRT12 = math.sqrt(12.0)  # standard deviation of an even distribution over a unit width: 1 / sqrt(12)


def budget(*changes: str, rig: str = "default", string: str = "E4", strategy: str | None = None) -> Budget:
    """Return a budget on a body that gives way to nothing, where ``build`` alone gives the closed forms."""
    return error_budget(load_rig(rig, changes=('body.part="rigid"', *changes)), string, strategy)


def share(found: Budget, name: str) -> Share:
    return next(share for share in found.shares if share.name == name)


def test_a_perfect_machine_leaves_its_deadband() -> None:
    found = budget(FREE, rig="theory")
    assert found.strategy == "relay"
    assert found.total_cents() == pytest.approx(P95 * 4.0 / SQRT12, rel=1e-9)  # 2 cents to either side
    assert found.helps_most() == ("deadband", 0.0)


def test_a_band_wider_than_the_tolerance_ends_at_the_tolerance() -> None:
    found = budget("strategies.relay.deadband_cents=50", "task.tolerance_cents=1.5", rig="theory")
    assert share(found, "deadband").spread_cents == pytest.approx(3.0 / SQRT12, rel=1e-9)


def test_of_motor_step_and_deadband_the_wider_one_counts() -> None:
    slope = build(load_rig("theory"), "E4").chain
    cents_per_deg = slope.cents_per_knob_deg(slope.string.tension_at_hz(slope.string.target_hz))
    found = budget(FREE, "motor.resolution_deg=20", rig="theory")
    assert share(found, "motor step").spread_cents == pytest.approx(20.0 * cents_per_deg / SQRT12, rel=1e-9)
    assert 20.0 * cents_per_deg > 4.0, "this step is to be wider than the band"
    assert found.total_cents() == pytest.approx(P95 * 20.0 * cents_per_deg / SQRT12, rel=1e-9)
    assert found.without_cents("deadband") == found.total_cents()
    assert found.without_cents("motor step") == pytest.approx(P95 * 4.0 / SQRT12, rel=1e-9)


def test_readings_that_finish_average_what_is_new_in_each() -> None:
    once, four = budget("task.finish_readings=1"), budget("task.finish_readings=4")
    for name, fall in {"ear per pluck": 2.0, "ear per reading": 2.0, "ear per run": 1.0, "ear clock": 1.0}.items():
        assert share(once, name).spread_cents == pytest.approx(fall * share(four, name).spread_cents, rel=1e-9)
    same_pluck = budget("task.finish_readings=4", "strategies.coarse.readings_per_pluck=4")
    assert share(same_pluck, "ear per pluck") == share(once, "ear per pluck")


def test_an_ear_that_reads_sharp_leaves_the_string_flat_and_a_fast_clock_sharp() -> None:
    found = budget(FREE, "ear.bias_cents=2", "ear.clock_ppm=1000")
    assert share(found, "ear bias").one_sided_cents == -2.0
    assert share(found, "ear clock").one_sided_cents == pytest.approx(1.7304, abs=5e-5)  # 1200 log2(1.001)
    plain = budget(FREE, "ear.clock_ppm=0")
    assert found.total_cents() == pytest.approx(plain.total_cents() + 2.0 - 1.7304, abs=1e-4)


def test_an_ear_that_hears_the_period_is_off_by_the_inharmonicity() -> None:
    """Fletcher & Rossing: partials at ``n f0 sqrt(1 + B n^2)``. The mean of ``f_n / n`` over six: ``1 + B 14.17/2``."""
    string = build(load_rig("default"), "E2").chain.string
    stiff = string.bending_n / string.tension_at_hz(string.target_hz)
    above = cents(1.0 + stiff * (91.0 / 6.0 - 1.0) / 2.0, 1.0)
    found = budget('ear.hears="effective"', string="E2")
    assert share(found, "ear bias").one_sided_cents == pytest.approx(-above, rel=1e-6)
    same = budget('ear.hears="effective"', 'task.pitch="effective"', string="E2")
    assert share(same, "ear bias").one_sided_cents == 0.0


def test_plucks_take_the_share_of_the_nut_away() -> None:
    held = ['nut.part="plastic-nut"', "nut.relaxation_share=0.4"]
    twice, thrice = budget(*held, "task.finish_readings=2"), budget(*held, "task.finish_readings=3")
    assert share(twice, "nut relaxation").spread_cents > 0.1
    ratio = share(thrice, "nut relaxation").spread_cents / share(twice, "nut relaxation").spread_cents
    assert ratio == pytest.approx(0.6, rel=1e-9)
    assert share(budget(*held, "nut.relaxation_share=1"), "nut relaxation").spread_cents == 0.0


def test_a_nut_that_sticks_makes_the_least_step_coarser() -> None:
    held = budget('nut.part="plastic-nut"', "nut.friction=0.4", "nut.kinetic_share=0.5")
    assert share(held, "motor step").spread_cents > share(budget(), "motor step").spread_cents


def test_backlash_counts_only_where_nothing_takes_it_up() -> None:
    assert share(budget(), "slop").spread_cents == 0.0
    chain = build(load_rig("default"), "E4").chain
    cents_per_deg = chain.cents_per_knob_deg(chain.string.tension_at_hz(chain.string.target_hz))
    floats = budget("head.post_friction_nmm=5000", "head.backlash_deg=1")
    assert share(floats, "slop").spread_cents == pytest.approx(18.0 * cents_per_deg / SQRT12, rel=1e-9)


@pytest.mark.parametrize("rig", ["default", "violin"])
def test_helps_most_is_the_least_total_and_contributions_make_the_total(rig: str) -> None:
    scenario = load_rig(rig, changes=("ear.bias_cents=1", 'nut.part="plastic-nut"'))
    for string in scenario.strings:
        found = error_budget(scenario, string)
        least = min(found.without_cents(each.name) for each in found.shares)
        assert found.helps_most().total_cents == least < found.total_cents()
        assert sum(found.contributions_cents().values()) == pytest.approx(found.total_cents(), rel=1e-9)


def test_an_unknown_strategy_is_refused() -> None:
    with pytest.raises(KeyError):
        budget(strategy="nobody")


def _relaxed_cents(record: Record) -> float:
    """Return the true error after plucks have taken all away that the nut holds."""
    path, chain = record.instrument.paths[record.rig.string], record.rig.chain
    angles = path.stretches[-1].ends if path.stretches else path.begins
    return cents(chain.string.first_partial_hz(chain.plucked(angles, 1.0).speaking_n), chain.string.target_hz)


def _p95_over_total(rig: str, strategy: str, *changes: str) -> float:
    """Return the 95th percentile of |relaxed error| of finished runs over the budget's total, all strings together."""
    scenario = load_rig(rig, changes=changes)
    number = [each.name for each in scenario.strategies].index(strategy)
    bench, found = Bench((scenario,), 1), []
    for place, string in enumerate(scenario.strings):
        total = error_budget(scenario, string, strategy).total_cents()
        records = (bench.record(Item(0, number, place, specimen, 0)) for specimen in range(SPECIMENS))
        found += [abs(_relaxed_cents(each)) / total for each in records if each.outcome is Outcome.FINISHED]
    assert len(found) > SPECIMENS * len(scenario.strings) / 3
    return float(np.quantile(found, 0.95))


@pytest.mark.parametrize(
    ("rig", "strategy", "changes"),
    [
        ("default", "coarse", ()),
        ("default", "proportional", ()),
        ("default", "proportional", ("ear.bias_cents=3",)),
        ("default", "proportional", ("ear.clock_ppm={low=-3000, high=3000}",)),
        ("electric-bass", "fine", ()),
        ("violin", "steps", ()),
    ],
)
def test_the_total_agrees_with_simulation(rig: str, strategy: str, changes: tuple[str, ...]) -> None:
    """The total is meant to hold for 95 % of tunings, whatever dominates it."""
    assert 0.7 <= _p95_over_total(rig, strategy, FREE, *changes) <= 1.2


@pytest.mark.parametrize(
    ("rig", "strategy"),
    [("default", "coarse"), ("default", "proportional"), ("electric-bass", "fine"), ("violin", "steps")],
)
def test_the_total_agrees_with_simulation_where_the_nut_grips(rig: str, strategy: str) -> None:
    """Relaxing goes on from, or takes back, what the last step left: the budget takes them as independent."""
    assert 0.5 <= _p95_over_total(rig, strategy) <= 1.6


def test_a_climate_moves_the_pitch_by_the_difference_of_expansions() -> None:
    """Strain ``(body - string) dT`` of a string of stiffness EA: ``dc = 600 / ln 2 EA strain (1/T + 1/EA)``."""
    climate = ("climate.string_change_k=1", "climate.body_change_k=1", "climate.string_expansion_ppm_k=12",
               "climate.body_expansion_ppm_k=5")  # fmt: skip
    string = build(load_rig("default"), "E4").chain.string
    tension = string.tension_at_hz(string.target_hz) + string.bending_n
    expected = 600.0 / math.log(2.0) * string.ea_n * -7e-6 * (1.0 / tension + 1.0 / string.ea_n)
    found = share(budget(*climate), "temperature")
    assert found == ("temperature", pytest.approx(expected, rel=0.01), 0.0)


@pytest.mark.parametrize("rig", ["default", "violin"])
def test_the_step_is_that_of_the_sheet(rig: str) -> None:
    scenario = load_rig(rig)
    for facts in describe(scenario):
        found = share(error_budget(scenario, facts.string), "motor step")
        assert found.spread_cents == pytest.approx(facts.step_cents / SQRT12, rel=1e-9)
