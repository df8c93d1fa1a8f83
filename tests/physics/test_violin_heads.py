"""What is known of friction pegs and fine adjusters of a violin, told by the ready rigs."""

import pytest
from pytest import approx

from scenarios.errors import RigError
from scenarios.library import part
from scenarios.load import load_rig
from scenarios.schema import Range
from sim.build import build
from sim.design.facts import Facts, describe
from sim.design.refusals import doubts
from sim.plan import plan

PEGS, ADJUSTERS = load_rig("violin-pegs"), load_rig("violin-adjusters")
TURN = 360.0
COARSE_DEG = 0.9  # deadband of a 9 g servo, as sold: 10 us at 0.09 degrees each


def facts(rig: str, *changes: str) -> dict[str, Facts]:
    return {each.string: each for each in describe(load_rig(rig, changes=changes))}


def test_a_degree_of_a_friction_peg_is_seven_to_twenty_cents() -> None:
    """Turned one to one (from memory); so a step of 0.9 degrees leaves a tolerance of 5 cents on every string."""
    for each in facts("violin-pegs").values():
        assert 7.0 <= each.cents_per_knob_deg <= 20.0
        assert COARSE_DEG * each.cents_per_knob_deg > 5.0


def test_a_turn_of_a_fine_adjuster_is_some_tens_of_cents() -> None:
    """40 to 80 cents on E5 (from memory, for 0.25 to 0.35 mm of string); the middle of the part is to be near."""
    e5 = facts("violin-adjusters")["E5"]
    assert 40.0 <= TURN * e5.cents_per_knob_deg <= 85.0
    radius_mm = ADJUSTERS.heads["E5"].nominal().winding_radius_mm(0.26)
    assert 0.25 <= 2.0 * 3.141592653589793 * radius_mm <= 0.35


def test_a_string_of_a_violin_pulls_a_peg_with_a_fifth_of_a_newton_metre_or_so() -> None:
    """0.16 to 0.30 N m (independent arithmetic: tension times radius); a well seated peg holds that."""
    for each in facts("violin-pegs").values():
        rig = build(PEGS, each.string)
        assert 0.16 <= each.tension_n * rig.chain.string.winding_radius_m <= 0.33
        assert each.hopeless == ()


def test_a_peg_pushed_in_too_weakly_is_hopeless_and_says_why() -> None:
    for each in facts("violin-pegs", 'head.part="loose-violin-peg"').values():
        assert any("does not hold" in line for line in each.hopeless)


def test_a_coupler_that_slips_before_the_knob_turns_is_hopeless() -> None:
    found = facts("violin-pegs", "coupler.slip_torque_nm=0.3")
    assert all(any("slips" in line for line in each.hopeless) for each in found.values())


def test_the_force_on_the_pegbox_is_told_and_only_pegs_have_one() -> None:
    """F / (sin a + mu cos a) with F 112.5 N, mu 0.3, 1:30: 355 N (independent arithmetic)."""
    assert all(
        each.wall_force_n == approx(112.5 / (0.0166643 + 0.3 * 0.9998612), rel=1e-6)
        for each in facts("violin-pegs").values()
    )
    assert all(each.wall_force_n == 0.0 for each in facts("violin-adjusters").values())


def test_a_stiff_coupler_makes_the_jump_of_a_peg_fit_and_a_soft_one_does_not() -> None:
    for stiff, soft in zip(
        facts("violin-pegs").values(), facts("violin-pegs", 'coupler.part="printed-fork"').values(), strict=True
    ):
        assert stiff.slip_cents < 5.0 < 10.0 < soft.slip_cents


def test_a_screw_that_is_too_short_is_doubted() -> None:
    changes = ("head.travel_turns=2", "instrument.start_cents=100")
    rig = load_rig("violin-adjusters", changes=changes)
    assert len(doubts(rig, describe(rig))) == len(rig.strings)
    assert doubts(ADJUSTERS, describe(ADJUSTERS)) == ()


def test_an_adjuster_pulls_the_string_behind_the_bridge() -> None:
    """Seen from there the segment behind the saddle comes first, with the saddle's friction."""
    held = build(ADJUSTERS, "E5").chain.friction
    assert held is not None
    string, nut = ADJUSTERS.strings["E5"].nominal(), ADJUSTERS.nuts["E5"].nominal()
    ea_n = string.axial_stiffness_kn * 1e3
    assert held.behind_n_m == approx(ea_n / (nut.after_mm * 1e-3))
    assert held.after_n_m == approx(ea_n / ((string.total_length_mm - string.length_mm - nut.after_mm) * 1e-3))


def test_an_adjuster_needs_string_behind_the_saddle() -> None:
    with pytest.raises(RigError, match=r"nut\.after_mm .*above 0"):
        load_rig("violin-adjusters", changes=["nut.after_mm=0"])
    with pytest.raises(RigError, match=r"nut\.after_mm .*no string is left"):
        load_rig("violin-pegs", changes=["nut.after_mm=100"])
    assert load_rig("violin-adjusters", changes=['nut.part="free"']).nuts


def test_heads_of_a_kind_have_sourced_ranges() -> None:
    """1:30 (Wikipedia, Tuning peg); 7.8 mm at the hole, 0.5 to 0.7 mm of pitch, 2:1 (from memory)."""
    peg, screw = part("head", "violin-peg").values, part("head", "violin-adjuster").values
    assert peg["taper"].value == 30
    for values, key, low, high in ((peg, "post_radius_mm", 3.7, 4.1), (screw, "screw_pitch_mm", 0.5, 0.7)):
        assert values[key].value == Range(low, high)


def test_both_rigs_have_a_plan_for_every_string() -> None:
    for scenario in (PEGS, ADJUSTERS):
        for string in scenario.strings:
            assert plan(scenario, scenario.strategies[0], string).unit() is not None
