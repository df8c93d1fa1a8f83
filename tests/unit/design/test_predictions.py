"""Closed forms of the bench against arithmetic that does not use them."""

import math
from dataclasses import replace

import pytest
from pytest import approx

from scenarios.load import load_rig
from sim.build import Rig
from sim.design import predictions
from sim.design.strung import taut
from tests.loop.rigs import HEAD, changed, rig

RIGID = "body.part=rigid"


def nominal(name: str, *changes: str) -> dict[str, Rig]:
    scenario = load_rig(name, changes=list(changes))
    return taut(scenario, scenario.strings)


def test_a_semitone_is_eleven_degrees_of_the_post() -> None:
    """0.254 mm of steel, 648 of 750 mm, radius 3 mm: 11.1941 degrees of the post (independent arithmetic).

    That arithmetic leaves out that the string thins by its strain, 0.7 %.
    """
    assert predictions.knob_turn_cents(rig(), 14.0 * 11.1941).low == approx(100.0, rel=0.01)


def test_a_small_turn_has_the_slope_of_the_string() -> None:
    for machine in nominal("default").values():
        slope = machine.chain.cents_per_knob_deg(predictions.at_pitch_n(machine))
        assert predictions.knob_turn_cents(machine, 0.01).low == approx(0.01 * slope, rel=1e-3)


def test_weights_are_those_of_a_worm() -> None:
    """``m = T r / (N g arm) tan(lambda +- phi) / tan(lambda)``; worm after Shigley, standard gravity 9.80665 m/s2."""
    machine = rig()
    pull_nm = predictions.at_pitch_n(machine) * 3.0e-3 / HEAD.ratio
    lead, phi = math.radians(HEAD.lead_angle_deg), math.atan(HEAD.worm_friction)
    up_g = 1e3 * pull_nm * math.tan(lead + phi) / math.tan(lead) / (9.80665 * 0.1)
    down_g = 1e3 * pull_nm * math.tan(phi - lead) / math.tan(lead) / (9.80665 * 0.1)
    assert predictions.tightening_g(machine, 100.0).low == approx(up_g, rel=1e-9)
    assert predictions.loosening_g(machine, 100.0).low == approx(down_g, rel=1e-9)
    assert predictions.tightening_g(machine, 200.0).low == approx(up_g / 2.0, rel=1e-9)


def test_a_head_that_does_not_lock_must_be_held() -> None:
    """It runs back when the lead angle exceeds the friction angle (Shigley)."""
    steep = rig(head=changed(HEAD, lead_angle_deg=20.0))
    assert predictions.loosening_g(steep, 100.0).low < 0.0


def test_a_nut_without_relaxation_gives_the_numbers_of_the_chain() -> None:
    """From one threshold of the nut to the other, and all that plucks relax where the string ends at the saddle."""
    for machine in nominal("default", "nut.part=plastic-nut").values():
        chain, target_n = machine.chain, predictions.at_pitch_n(machine)
        assert chain.friction is not None
        stiff = replace(machine, relaxation_share=0.0)
        assert predictions.reversal_deg(stiff, 0.0).high == approx(chain.reversal_deg(target_n), rel=1e-9)
        assert predictions.pressing_cents(stiff, 0.0).high == approx(chain.relaxing_cents(target_n, 1), rel=1e-9)
        done = replace(machine, relaxation_share=1.0)
        assert predictions.pressing_cents(done, 0.0) == approx((0.0, 0.0), abs=1e-9)


def test_a_body_that_gives_way_takes_part_of_a_turn() -> None:
    """On a rigid body a turn raises the pitch more than on a floating bridge."""
    rigid, soft = nominal("electric-guitar", RIGID), nominal("electric-guitar", "body.part=floating-bridge")
    for string, machine in rigid.items():
        turned = predictions.knob_turn_cents(machine, 90.0).low
        assert predictions.knob_turn_cents(soft[string], 90.0).low < 0.95 * turned


@pytest.mark.parametrize("motor", ["servo-9g", "servo-continuous-9g", "gear-motor-100"])
def test_a_stalled_motor_pulls_the_supply_down(motor: str) -> None:
    """Without resistance nothing sags; at the reference voltage and full push the data sheet's stall row is met."""
    changes = [f"motor.part={motor}", "motor.stall_current_a=0.8", "motor.reference_v=6", "supply.voltage_v=6"]
    firm = next(iter(nominal("default", *changes, "supply.resistance_ohm=0").values()))
    assert predictions.stalled_v(firm, 0.0).low == 6.0
    soft = next(iter(nominal("default", *changes, "supply.resistance_ohm=0.001").values()))
    assert 6.0 - predictions.stalled_v(soft, 0.0).low == approx(0.8e-3, rel=0.01)


def test_the_spread_of_ten_readings_is_that_of_chi_square() -> None:
    from scipy.stats import chi2

    low, high = (math.sqrt(chi2.ppf(share, 9) / 9.0) for share in (0.025, 0.975))
    assert approx(predictions.CHI_LOW, rel=1e-3) == low
    assert approx(predictions.CHI_HIGH, rel=1e-3) == high


def test_readings_on_steps_may_all_agree() -> None:
    """Bars of 4 Hz are 82 cents apart at 82.4 Hz: ten readings spread by 0, or by half of that, five and five."""
    machine = nominal("small-ear")["E2"]
    low, high = predictions.ear_cents(machine, 0.0)
    assert low == 0.0
    assert high >= 1200.0 * math.log2(1.0 + 4.0 / 82.41) / 2.0
