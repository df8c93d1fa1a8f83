"""Importance sampling against the normal tail, a closed form of the loop, and plain runs where both reach."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.evaluate import Bench
from sim.seeds import Streams, run_key
from sim.series.rare import ENOUGH, Effort, Estimate, estimated, rare, rares
from sim.series.rare_runs import machine
from sim.series.row import Item
from sim.series.statistics import zero_bound
from sim.series.tilted import KINDS, Proposal, Spread, TiltedChance
from sim.views.rare import sentences, table

TILTED = pytest.mark.parametrize("name", [name for name in KINDS if name != "plain"])
GAIN = 2.0  # degrees a cent
SIGMA = 115.0  # cents


def noisy(sigma_cents: float, *more: str) -> Scenario:
    """Return an invented rig that believes every reading, its errors normal and new at each."""
    silent = ("run_cents", "pluck_cents", "reading_cents", "missed_share", "octave_low_share", "octave_high_share")
    return load_rig(
        "default",
        changes=[
            'acceptance.order=""', 'motor.part="ideal"', 'nut.part="free"', "ear.clock_ppm=0",
            "strings.E4.strength_mpa=2600", "strings.E4.knot_factor=0.85",
            *(f"ear.{key}=0" for key in silent), f"ear.wander_cents={sigma_cents}",
            'strategies.named.kind="proportional"',
            f"strategies.named.gain_deg_per_cent={GAIN}", "strategies.named.largest_move_deg=100000", *more,
        ],
    )  # fmt: skip


def tail(name: str, runs: int, far: float, spread: Spread) -> Estimate:
    """Return the estimate of an ear's error below ``-far`` standard deviations at the first reading."""
    streams, proposal, weights = Streams(7), Proposal(name, 1), np.zeros(runs)
    for run in range(runs):
        mine = proposal.at(streams.uniform("tilt", run))
        chance = TiltedChance(streams, "E4", run_key(run, 0), proposal, mine, spread)
        draws = chance.reading(0, 0)
        error = (
            spread.run * draws.run_normal + spread.pluck * draws.pluck_normal + spread.reading * draws.reading_normal
        )
        weights[run] = chance.weight() if error < -far else 0.0
    return estimated(name, weights, proposal.most)


@TILTED
@pytest.mark.parametrize("spread", [Spread(0.0, 0.0, 1.0), Spread(0.48, 0.6, 0.64)], ids=["one", "three"])
def test_the_normal_tail(name: str, spread: Spread) -> None:
    """P(Z > 4) = 3.167e-5: Abramowitz & Stegun, table 26.1 (from memory); scipy.stats.norm.sf."""
    assert norm.sf(4.0) == pytest.approx(3.167e-5, abs=5e-9)
    found = tail(name, 4000, 4.0, spread)
    assert found.low <= norm.sf(4.0) <= found.high
    assert found.relative_error < 0.25
    assert found.resolved


@TILTED
def test_weights_average_to_one_and_are_bounded(name: str) -> None:
    """All that can happen has probability 1; the ear's own share of the mixture bounds every weight."""
    found = tail(name, 4000, -math.inf, Spread(0.0, 0.0, 1.0))
    assert found.low <= 1.0 <= found.high
    streams, proposal = Streams(3), Proposal(name, 8)
    for run in range(200):
        mine = proposal.at(streams.uniform("tilt", run))
        chance = TiltedChance(streams, "E4", run_key(run, 0), proposal, mine, Spread(0.0, 0.6, 0.8))
        for reading in range(8):
            chance.reading(reading // 2, reading % 2)
        assert chance.weight() <= proposal.most * (1 + 1e-9)


def test_a_reading_asked_for_again_is_the_same_and_weighs_once() -> None:
    proposal = Proposal("shift", 3)
    chance = TiltedChance(Streams(1), "E4", 0, proposal, proposal.at(0.5), Spread(0.0, 0.6, 0.8))
    first = chance.reading(0, 0)
    weight = chance.weight()
    assert chance.reading(0, 0) == first
    assert chance.weight() == weight


def test_every_tilt_is_drawn_by_its_share() -> None:
    proposal = Proposal("scale", 2)
    assert sum(proposal.shares) == pytest.approx(1.0, rel=1e-12)
    places = np.cumsum(proposal.shares) - np.array(proposal.shares) / 2.0
    assert [proposal.at(float(place)) for place in places] == list(proposal.tilts)


@TILTED
def test_one_reading_that_breaks_the_string_has_a_closed_form(name: str) -> None:
    """``P = Phi(-spare / (gain sigma))`` with one pluck from the target, averaged over the machines drawn."""
    scenario, runs = noisy(SIGMA, "task.pluck_limit=1", "instrument.start_cents=0"), 1300
    asked = rares(scenario, [("named", "E4")], 5, Effort(runs=runs, most=4 * runs))[0]
    found = {each.proposal: each for each in asked.estimates}[name]
    strategy = [each.name for each in scenario.strategies].index("named")
    bench, first = Bench((scenario,), 5), machine(name, 0)
    item = Item(0, strategy, tuple(scenario.strings).index("E4"), 0, 0)
    chains = [bench.rig(replace(item, specimen=first + place)).chain for place in range(found.runs)]
    spare_n = [chain.string.breaking_n - chain.string.tension_at_hz(chain.string.target_hz) for chain in chains]
    spare_deg = [n * chain.ratio / chain.newton_per_deg for n, chain in zip(spare_n, chains, strict=True)]
    expected = float(np.mean(norm.sf(np.array(spare_deg) / (GAIN * SIGMA))))
    assert expected < 1e-4
    assert found.resolved
    assert found.low <= expected <= found.high


def test_proposals_agree_with_plain_runs_where_both_reach() -> None:
    found = rare(noisy(180.0, "task.pluck_limit=4"), "named", "E4", seed=2, runs=700)
    assert all(each.resolved for each in found.estimates)
    assert found.agree
    assert found.best is not None
    assert found.best.proposal != "plain"


@pytest.mark.slow
def test_two_proposals_agree_where_plain_runs_see_next_to_nothing() -> None:
    found = rare(noisy(SIGMA, "task.pluck_limit=4"), "named", "E4", seed=2, runs=8000)
    plain, shift, scale = found.estimates
    assert plain.broke < ENOUGH
    assert shift.resolved
    assert scale.resolved
    assert found.agree


def test_what_was_never_seen_has_a_bound_and_no_share() -> None:
    """A weight of at most 5 times the exact bound on drawing it at all (rule of three, Hanley & Lippman-Hand 1983)."""
    found = estimated("shift", np.zeros(300), 5.0)
    assert (found.probability, found.relative_error, found.resolved) == (0.0, math.inf, False)
    assert found.high == pytest.approx(5.0 * zero_bound(300))
    assert "at most" in table(rare(noisy(1.0), "named", "E4", runs=5)).rows[0][3]


def test_a_clamp_below_the_reserve_makes_breaking_unreachable() -> None:
    """Three turns of 120 degrees are fewer than the string spares; a wild ear cannot change that."""
    wild = noisy(2000.0, "task.pluck_limit=3", "strategies.named.largest_move_deg=120")
    found = rare(wild, "named", "E4", runs=5)
    assert found.unreachable
    assert found.estimates == ()
    assert sentences(found)[0].startswith("Unreachable: 3 turns of at most 120 deg")
    longer = rare(noisy(2000.0, "task.pluck_limit=6", "strategies.named.largest_move_deg=120"), "named", "E4", runs=5)
    assert not longer.unreachable
    assert sentences(longer)[0].startswith("One wrong reading cannot break it")


def test_the_clamp_keeps_its_word() -> None:
    """A string that always reads far too low: all turns that a run has, and it holds (``Clamp.forbids_all``)."""
    changes = ("task.pluck_limit=3", "strategies.named.largest_move_deg=120", "ear.bias_cents=-100")
    scenario = noisy(1.0, *changes, "strategies.named.gain_deg_per_cent=50")
    strategy = [each.name for each in scenario.strategies].index("named")
    place = tuple(scenario.strings).index("E4")
    bench = Bench((scenario,), 1)
    rows = [bench.row(Item(0, strategy, place, specimen, 0)) for specimen in range(20)]
    assert max(row["turned_deg"] for row in rows) == pytest.approx(360.0, rel=0.01)
    assert not any(row["broken"] for row in rows)


def test_faults_of_the_rig_are_left_out() -> None:
    sound = noisy(140.0, "task.pluck_limit=2")
    faulty = noisy(140.0, "task.pluck_limit=2", 'faults.a.kind="octave-low"')
    assert rare(faulty, "named", "E4", runs=30) == rare(sound, "named", "E4", runs=30)


def test_a_motor_that_may_turn_further_than_told_is_promised_nothing() -> None:
    timed = load_rig("default", changes=['motor.part="servo-continuous-standard"'])
    assert rare(timed, "proportional", "E4", runs=3).clamp is None


def test_unknown_names_and_the_signal_ear_are_refused() -> None:
    scenario = load_rig("default")
    with pytest.raises(KeyError, match="nobody"):
        rare(scenario, "nobody", "E4")
    with pytest.raises(KeyError, match="H4"):
        rare(scenario, "proportional", "H4")
    with pytest.raises(ValueError, match="the ear is 'signal'; allowed: 'statistical'"):
        rare(load_rig("default", ear="signal"), "proportional", "E4")


def test_the_table_fits_a_terminal_and_names_its_condition() -> None:
    found = rare(noisy(140.0, "task.pluck_limit=4"), "named", "E4", seed=2, runs=100)
    widths = [
        max(len(part) for cell in column for part in cell.split("\n"))
        for column in zip(table(found).columns, *table(found).rows, strict=True)
    ]
    assert sum(widths) + 3 * len(widths) <= 80
    assert "Conditional on the noise model" in sentences(found)[-1]
    assert "no proof of safety" in sentences(found)[-1]


def test_processes_change_nothing() -> None:
    scenario, asked = noisy(140.0, "task.pluck_limit=4"), [("named", "E4"), ("named", "B3")]
    one, two = (rares(scenario, asked, 2, Effort(runs=60, most=240, jobs=jobs)) for jobs in (1, 2))
    assert one == two
    assert [each.string for each in one] == ["E4", "B3"]


def test_more_machines_are_drawn_until_the_estimate_is_good_enough() -> None:
    """A relative error of 0.3 by itself, or the limit; where nothing breaks a limit of its own."""
    found = rares(noisy(140.0, "task.pluck_limit=4"), [("named", "E4")], 2, Effort(runs=50, most=1600))[0]
    for each in found.estimates[1:]:
        assert each.runs > 50
        assert each.resolved
        assert each.relative_error <= 0.3
    quiet = rares(noisy(1.0, "task.pluck_limit=2"), [("named", "E4")], 2, Effort(runs=5, most=80, most_unbroken=20))[0]
    assert [each.runs for each in quiet.estimates] == [20, 20, 20]
    assert quiet.at_most == min(each.high for each in quiet.estimates)


@TILTED
@pytest.mark.parametrize("many", [1, 2, 4])
def test_octave_errors_in_a_row_have_a_closed_form(name: str, many: int) -> None:
    """``P = p^n``: independent errors with the chance ``p`` of the ear at each of the first ``n`` readings."""
    share, runs = 0.005, 12000
    streams, proposal, weights = Streams(9), Proposal(name, many, share), np.zeros(runs)
    for run in range(runs):
        mine = proposal.at(streams.uniform("tilt", run))
        chance = TiltedChance(streams, "E4", run_key(run, 0), proposal, mine, Spread(0.0, 0.6, 0.8, share))
        low = [chance.reading(pluck, 0).gross_uniform < share for pluck in range(many)]
        weights[run] = chance.weight() if all(low) else 0.0
    found = estimated(name, weights, proposal.most)
    assert found.resolved
    assert found.low <= share**many <= found.high


def test_octave_errors_that_break_a_string_are_found_by_both_proposals() -> None:
    """A careful ear, gate open and no limit on moves: one octave low breaks the string, at most 2 readings may err."""
    rig = noisy(0.3, "task.pluck_limit=2", "ear.octave_low_share=0.0005", "instrument.start_cents=-5")
    found = rares(rig, [("named", "E4")], 3, Effort(runs=400, most=3200))[0]
    plain, *tilted = found.estimates
    assert found.agree
    assert all(each.resolved and each.relative_error <= 0.3 for each in tilted)
    once, twice = 0.0005, 1.0 - (1.0 - 0.0005) ** 2
    assert all(each.high >= once and each.low <= twice for each in tilted)
    assert plain.relative_error > max(each.relative_error for each in tilted)
