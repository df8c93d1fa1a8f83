"""What every builder of such a machine finds out, told by the sheet of ready rigs; closed forms beside.

The string of the first two: plain steel of 0.254 mm, speaking 648 mm, 750 mm in all, E4 = 329.628 Hz, 7850 kg/m3, 200
GPa, effective post radius 3 mm. Mersenne: 72.591 N; ``(600 / ln 2) k r / T`` = 8.4366 cents per degree of the post;
217.8 mN m at the post; a worm of 6 degrees with friction 0.15 has the efficiency 0.4055 (independent arithmetic).
"""

import math

import pytest
from pytest import approx

from scenarios.load import load_rig
from sim.design.rows import Row
from sim.design.sheet import Sheet, design

STRING = (
    'instrument.strings=["E4"]', "strings.E4.gauge_mm=0.254", "strings.E4.core_mm=0.254", "strings.E4.length_mm=648",
    "strings.E4.total_length_mm=750", "strings.E4.unit_weight_g_per_m=0.397765",
    "strings.E4.axial_stiffness_kn=10.1341", "strings.E4.bending_stiffness_gpa=0", "head.post_radius_mm=2.873",
    "nut.part=free",
)  # fmt: skip
NINE_GRAMS = (
    "motor.part=servo-9g", "motor.travel_deg=180", "motor.pulse_deadband_us=10", "motor.stall_torque_ref_nm=0.17652",
    "motor.reference_v=4.8", "supply.part=bench-5v", "supply.voltage_v=4.8", "supply.resistance_ohm=0",
)  # fmt: skip
WORM = ("head.lead_angle_deg=6", "head.worm_friction=0.15")


def sheet(rig: str, *changes: str) -> Sheet:
    return design(load_rig(rig, changes=changes))


def rows(found: Sheet, check: str) -> list[Row]:
    return [row for row in found.rows if row.check == check]


def test_a_small_servo_on_the_post_is_too_weak_and_too_coarse() -> None:
    """10 us of deadband are 0.9 degrees and 7.6 cents; 218 mN m are needed of 177 at stall (vendors' pages)."""
    found = sheet("direct-drive", *STRING, *NINE_GRAMS)
    (facts,), (step,), (torque,) = found.facts, rows(found, "step"), rows(found, "tighten")
    assert facts.tension_n == approx(72.591, rel=2e-3)
    assert (step.need, step.have, step.verdict) == (approx(7.59, rel=0.01), approx(6.0), "does not fit")
    assert (torque.need, torque.verdict) == (approx(217.8, rel=0.03), "does not fit")  # the steep worm loses 2 %
    assert torque.have == approx(176.5, rel=1e-3)
    assert found.verdict() == "does not fit"


def test_the_same_servo_on_a_knob_is_fine_enough_but_its_travel_is_short() -> None:
    """14:1: 0.9 degrees are 0.54 cents, 180 degrees 108 cents, 38.4 of 177 mN m (independent arithmetic)."""
    found = sheet("direct-drive", "head.part=worm-14", *WORM, *STRING, *NINE_GRAMS)
    (facts,), (step,), (torque,), (travel,) = (
        found.facts, rows(found, "step"), rows(found, "tighten"), rows(found, "travel"),
    )  # fmt: skip
    assert (step.need, step.verdict) == (approx(0.5423, rel=0.01), "fits")
    assert (torque.need, torque.verdict) == (approx(38.36, rel=5e-3), "fits")
    assert facts.stroke_cents == approx(108.5, rel=0.01)
    assert (travel.verdict, travel.have) == ("tight", approx(90.0))
    assert facts.semitone_regrips == 1  # it starts in the middle of its travel


def test_over_all_strings_the_stroke_covers_a_semitone_to_some_thirds_and_is_gripped_anew() -> None:
    found = sheet("direct-drive", "head.part=worm-14", *WORM, *NINE_GRAMS, "nut.part=free")
    assert all(90.0 < facts.stroke_cents < 350.0 for facts in found.facts)
    assert min(facts.stroke_cents for facts in found.facts) == approx(100.0, abs=20.0)
    assert any(facts.semitone_regrips for facts in found.facts)
    assert all(facts.slack_regrips for facts in found.facts)


def test_a_small_geared_stepper_does_not_turn_the_knobs_of_an_acoustic_guitar() -> None:
    """34 mN m (data sheets of the class) against ``T r / (14 * 0.4055)`` = 58 to 83 mN m of the light set."""
    found = sheet("geared-stepper", *WORM, "nut.part=free", "head.post_radius_mm=3.0", "supply.resistance_ohm=0")
    torques = rows(found, "tighten")
    assert {row.verdict for row in torques} == {"does not fit"}
    assert [min(row.need for row in torques), max(row.need for row in torques)] == [
        approx(57.7, rel=0.01), approx(82.9, rel=0.01),
    ]  # fmt: skip
    assert {round(row.have) for row in torques} == {34}
    assert {row.verdict for row in rows(found, "step")} == {"fits"}


def test_a_violin_turned_one_to_one_needs_steps_below_a_degree() -> None:
    """A peg of 7.8 mm moves 7 to 20 cents a degree; a band of 10 cents leaves 0.5 to 1.4 degrees at most."""
    found = sheet("violin", "head.ratio=1.0", "motor.part=servo-9g")
    slopes = [facts.cents_per_knob_deg for facts in found.facts]
    assert min(slopes) > 5.0 and max(slopes) < 30.0
    steps = zip(rows(found, "step"), slopes, strict=True)
    coarsest = [row.have / slope / 1.5 for row, slope in steps]
    assert max(coarsest) < 1.0
    assert "does not fit" in {row.verdict for row in rows(found, "step")}


def test_a_gear_motor_on_batteries_turns_every_knob_while_they_are_fresh() -> None:
    found = sheet("gear-motor")
    assert {row.verdict for row in rows(found, "tighten")} == {"tight"}
    assert all(facts.fresh_torque_nm > facts.used_torque_nm > facts.torque_up_nm for facts in found.facts)
    assert all(math.isinf(facts.stroke_cents) and facts.slack_regrips == 0 for facts in found.facts)
    assert found.life is not None and found.life.tunings() > 100.0


@pytest.mark.parametrize("rig", ["default", "gear-motor"])
def test_a_rig_that_is_used_elsewhere_works(rig: str) -> None:
    assert sheet(rig).verdict() == "tight"
