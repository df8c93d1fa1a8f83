"""Travel, hearing, turning, charge and worst corners against closed forms."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.hearing.statistical import StatisticalEar
from models.messages import Source
from models.motors.ideal import IdealMotor
from models.motors.servo import PositionalServo
from scenarios.load import load_rig
from sim.build import build
from sim.design.charge import life, mean_start_cents
from sim.design.extremes import at, worst
from sim.design.facts import describe, facts, middle
from sim.design.hearing import plucks_to_finish, resolution_cents, steady_cents
from sim.design.travel import Travel
from sim.design.turning import turning
from sim.seeds import Streams
from sim.specimen import Draw

EXACT = load_rig("default", changes=["ear.part=exact"]).ears["E2"].nominal()
SPREADS = {"run_cents": 0.3, "pluck_cents": 0.4, "wander_cents": 0.0, "reading_cents": 1.2}


def ear(**values: float) -> StatisticalEar:
    found: StatisticalEar = replace(EXACT, **values)
    return found


def test_an_exact_ear_tells_everything_apart() -> None:
    assert resolution_cents(ear(), 110.0) == 0.0


def test_spreads_add_in_quadrature_and_shrink_with_readings_and_plucks() -> None:
    """sqrt(0.3^2 + 0.4^2 + 1.2^2) = 1.3; with 4 readings from 4 plucks sqrt(0.09 + 0.04 + 0.36) = 0.7."""
    assert resolution_cents(ear(**SPREADS), 110.0) == approx(1.96 * 1.3)
    assert resolution_cents(ear(**SPREADS), 110.0, readings=4, plucks=4) == approx(1.96 * 0.7)


def test_a_fast_clock_reads_low_and_a_glide_dies_away() -> None:
    """1000 ppm are 1.73 cents; a glide of 5 cents falls by e in its time constant."""
    assert steady_cents(ear(clock_ppm=1000.0)) == approx(-1.7304, rel=1e-4)
    assert steady_cents(ear(glide_cents=5.0, glide_s=0.2, skip_s=0.1, window_s=0.2)) == approx(5.0 / math.e)


def test_rounding_to_hertz_spreads_evenly_over_a_step() -> None:
    """Step over the root of 12, and ``1200 / (ln 2 f)`` cents a hertz: 2 Hz at 100 Hz."""
    assert resolution_cents(ear(resolution_hz=2.0), 100.0) == approx(1.96 * 2.0 / math.sqrt(12) * 17.3123, rel=1e-5)


def test_finishing_readings_come_from_as_few_plucks_as_a_strategy_allows() -> None:
    assert plucks_to_finish(load_rig("default", changes=["task.finish_readings=4"])) == 4
    many = ["task.finish_readings=4", "strategies.fine.readings_per_pluck=3"]
    assert plucks_to_finish(load_rig("default", changes=many)) == 2


@given(turn=st.floats(0.0, 5000.0), stroke=st.floats(10.0, 400.0), share=st.floats(0.0, 1.0))
def test_regrips_are_the_fewest_that_cover_a_turn(turn: float, stroke: float, share: float) -> None:
    travel = Travel(0.0, 0.0, 0.0, share * stroke, stroke, True)
    count = travel.regrips(turn)
    assert count is not None
    assert share * stroke + count * stroke >= turn * (1 - 1e-12)
    assert count == 0 or share * stroke + (count - 1) * stroke < turn
    assert travel._replace(regrip=False).regrips(turn) == (0 if turn <= share * stroke else None)


def test_a_semitone_and_the_way_from_slack() -> None:
    """Winding is linear in tension, pitch goes with its root: from 2^(-1/6) of the tension (bending and strain aside).

    The way from slack is longer than that by 1 / (1 - 2^(-1/6)) = 9.17; the slope at the target, 600 / ln 2 cents per
    relative tension, makes 94.43 cents of it.
    """
    (found,) = describe(load_rig("theory", changes=["strings.E4.bending_stiffness_gpa=0", "nut.part=free"]))
    assert found.reversal_deg == 0.0
    assert 360.0 * found.slack_turns / found.semitone_deg == approx(9.17, rel=0.01)
    assert found.semitone_deg * found.cents_per_knob_deg == approx(94.43, rel=0.003)


def test_an_ideal_motor_turns_at_its_speed_and_draws_nothing() -> None:
    steady = IdealMotor(speed_limit_deg_s=360.0, resolution_deg=0.0)
    assert turning(steady, 720.0, 1e6, Source(6.0, 0.2)) == (approx(2.0), 0.0, 6.0)


def test_a_servo_takes_its_line_of_torque_and_speed() -> None:
    """600 deg/s less 38.36 / 176.52 of it are 469.6 deg/s; 180 degrees also wait 10 ms for a pulse.

    The droop of 5 deg times the share of the stall torque is made good for. Independent arithmetic.
    """
    servo: PositionalServo = replace(
        load_rig("ukulele").motor.nominal(), travel_deg=180.0, speed_ref_deg_s=600.0, stall_torque_ref_nm=0.17652,
        droop_band_deg=5.0, run_current_a=0.2, stall_current_a=0.7, jitter_us=0.0, pulse_deadband_us=0.0,
    )  # fmt: skip
    found = turning(servo, 180.0, 0.03836, Source(4.8, 0.0))
    droop = 5.0 * 38.36 / 176.52
    assert found.seconds == approx((180.0 - droop) / 469.61 * 180 / (180 - droop) + 0.01, rel=2e-3)
    amps = 0.2 + 0.5 * 38.36 / 176.52
    assert found.charge_c == approx(amps * 180.0 / 469.61, rel=2e-3)
    assert turning(servo, 180.0, 0.2, Source(4.8, 0.0)).seconds == math.inf


@pytest.mark.parametrize(("low", "high", "mean"), [(-60, 60, 30.0), (-100, 0, 50.0), (-90, 30, 37.5), (20, 40, 30.0)])
def test_the_mean_distance_from_the_target(low: float, high: float, mean: float) -> None:
    """Of an even distribution: (low^2 + high^2) / 2 (high - low) across the target, else its middle."""
    scenario = load_rig("default", changes=[f"instrument.start_cents={{ low = {low}, high = {high} }}"])
    assert mean_start_cents(scenario) == approx(mean)


def test_a_battery_lasts_for_its_charge_over_that_of_a_tuning() -> None:
    scenario = load_rig("ukulele", changes=["supply.charge_share=1.0", "supply.capacity_ah=2.0"])
    found = life(scenario, middle)
    assert found is not None
    assert found.usable_c == approx(7200.0)  # an ampere hour is 3600 coulombs; the small servo starts to the end
    assert found.tunings() == approx(7200.0 / found.tuning_c)


def test_a_battery_is_used_up_where_the_motor_no_longer_starts() -> None:
    """Four cells that fall from 6.3 V: the knob needs what the servo has at some charge between full and empty."""
    torque = describe(load_rig("ukulele"))[0].torque_up_nm
    weak = [f"motor.stall_torque_ref_nm={torque}", "supply.charge_share=1.0", "supply.capacity_ah=2.0"]
    scenario = load_rig("ukulele", changes=weak)
    found = life(scenario, middle)
    assert found is not None and 0.0 < found.usable_c < 7200.0
    battery, motor = scenario.supply.nominal(), scenario.motor.nominal()
    most_nm = max(facts.torque_up_nm for facts in describe(scenario))
    assert motor.starting_torque_nm(battery.source(found.usable_c)) == approx(most_nm, rel=1e-6)


def test_a_unit_and_a_holding_stepper_are_fed_while_they_wait() -> None:
    changes = ["supply.part=lithium-2", "motor.part=stepper-plain"]
    held, loose, hungry = (
        life(load_rig("default", changes=[*changes, more]), middle)
        for more in ("motor.hold=true", "motor.hold=false", "unit.current_a=1.0")
    )
    assert held and loose and hungry
    assert loose.tuning_c < held.tuning_c < hungry.tuning_c


def test_the_worst_corner_of_what_goes_one_way() -> None:
    def measure(draw: Draw) -> tuple[float, float]:
        a, b = draw("a"), draw("b")
        return a - 2 * b, b

    first, second = worst(measure)
    assert (first.middle, first.worst, first.at) == (-0.5, -2.0, {"a": 0.0, "b": 1.0})
    assert (second.middle, second.worst, second.at) == (0.5, 0.0, {"b": 0.0})
    assert at({"a": 1.0})("a") == 1.0 and at({"a": 1.0})("b") == 0.5


def test_no_specimen_is_worse_than_the_worst_corner() -> None:
    """The torque to tighten of 200 specimens drawn from the same ranges stays within that of the worst corner."""
    scenario = load_rig("default")
    (corner,) = worst(lambda draw: (-facts(scenario, "E2", draw).torque_up_nm,))
    streams = Streams(5)
    drawn = [build(scenario, "E2", streams, specimen) for specimen in range(200)]
    torques = [rig.chain.turning_nm(rig.chain.string.tension_at_hz(rig.chain.string.target_hz), 1) for rig in drawn]
    assert max(torques) < -corner.worst
    assert -corner.middle < max(torques)
