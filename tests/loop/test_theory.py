"""The real loop against the theory of the sampled integrator with delay (independent arithmetic unless named)."""

import math

import numpy as np
import pytest

from controllers.bang_bang import BangBang
from controllers.bang_bang_spin import BangBangSpin
from controllers.proportional import Proportional
from controllers.proportional_spin import ProportionalSpin
from controllers.theory import (
    critical_gain,
    decision_delay,
    fastest_gain,
    limit_cycle,
    residual,
    spin_overshoot,
    stopping_half_band,
)
from models.hearing.base import latency_s
from sim.corners import course
from sim.loop import Record
from sim.trace import Outcome
from tests.loop.rigs import DRIVING, EAR, HEAD, PLAYER, TASK, cents_per_knob_degree, changed, readings, rig, tune

OVERLAPPED = changed(DRIVING, driving="overlapped")
TURNING = changed(DRIVING, driving="turning", readings_per_pluck=1000)
SMALL = 0.01  # cents: small enough for the exact tension map to be linear to 1e-5


def delayed(decisions: int, **parts):
    """A rig whose readings take so long that ``decisions`` plucks pass before a move is heard."""
    ear = changed(EAR, computing_s=float(decisions))
    machine = rig(ear=ear, **parts)
    assert decision_delay(latency_s(ear), ear.window_s / 2, PLAYER.pluck_s) == decisions
    return machine


def growth(record: Record) -> float:
    """Ratio of the swing of the last third of the readings to that of the third before."""
    cents = np.array(readings(record))
    third = len(cents) // 3
    return float(np.ptp(cents[-third:]) / np.ptp(cents[-2 * third : -third]))


@pytest.mark.parametrize("decisions", [0, 1, 2, 3])
def test_critical_gain_is_a_root_on_the_unit_circle(decisions):
    polynomial = [1.0, -1.0, *[0.0] * (decisions - 1), critical_gain(decisions)] if decisions else [1.0, 1.0]
    assert max(abs(np.roots(polynomial))) == pytest.approx(1.0, abs=1e-9)
    published = [2.0, 1.0, 0.618034, 0.445042]  # Levin & May 1976, from memory
    assert critical_gain(decisions) == pytest.approx(published[decisions], abs=5e-7)


@pytest.mark.parametrize("decisions", [0, 1, 2, 3])
@pytest.mark.parametrize(("share", "grows"), [(0.97, False), (1.03, True)])
def test_loop_decays_below_the_critical_gain_and_grows_above(decisions, share, grows):
    machine = delayed(decisions)
    gain = share * critical_gain(decisions) / cents_per_knob_degree(machine)
    record = tune(
        machine, Proportional(gain_deg_per_cent=gain, deadband_cents=0.0), SMALL, driving=OVERLAPPED, wrapped=False
    )
    assert len(record.readings) == 200
    assert (growth(record) > 1.0) is grows


@pytest.mark.parametrize("decisions", [1, 2, 3])
def test_fastest_gain_does_not_cross_and_a_higher_one_does(decisions):
    machine = delayed(decisions)
    for share, crosses in ((0.97, False), (1.2, True)):
        gain = share * fastest_gain(decisions) / cents_per_knob_degree(machine)
        law = Proportional(gain_deg_per_cent=gain, deadband_cents=0.0)
        record = tune(machine, law, -SMALL, driving=OVERLAPPED, wrapped=False)
        assert (max(readings(record)) > SMALL * 1e-6) is crosses


@pytest.mark.parametrize("decisions", [0, 1, 2, 3])
@pytest.mark.parametrize("step", [0.5, 2.0])
def test_bang_bang_without_deadband_cycles_as_predicted(decisions, step):
    machine = delayed(decisions)
    law = BangBang(step_deg=step / cents_per_knob_degree(machine), deadband_cents=0.0)
    record = tune(machine, law, -7.3 * step, driving=OVERLAPPED, wrapped=False)
    cents = np.array(readings(record))[100:]
    swing, period = limit_cycle(step, decisions)
    assert np.ptp(cents) == pytest.approx(swing, rel=5e-3)
    np.testing.assert_allclose(cents[period:], cents[:-period], atol=1e-6)
    assert all(not np.allclose(cents[p:], cents[:-p], atol=1e-6) for p in range(1, period))


@pytest.mark.parametrize("decisions", [0, 1, 2, 3])
@pytest.mark.parametrize("radius_mm", [2.4, 3.5, 6.9])
@pytest.mark.parametrize("step", [0.4, 1.5, 3.0])
@pytest.mark.parametrize("start_steps", [-6.9, -6.5, -6.1, 5.05])
def test_wide_enough_band_stops_bang_bang(decisions, radius_mm, step, start_steps):
    machine = delayed(decisions, head=changed(HEAD, post_radius_mm=radius_mm))
    band = stopping_half_band(step, decisions) * 1.03  # the tension map is curved: steps differ by some 1 %
    law = BangBang(step_deg=step / cents_per_knob_degree(machine), deadband_cents=band)
    record = tune(machine, law, start_steps * step, driving=OVERLAPPED, wrapped=False)
    last = readings(record)[-20:]
    assert max(last) - min(last) < 1e-9
    assert abs(last[-1]) <= band


@pytest.mark.parametrize("decisions", [0, 1, 2, 3])
def test_narrower_band_can_cycle_for_ever(decisions):
    step = 1.5
    machine = delayed(decisions)
    band = stopping_half_band(step, decisions) * 0.9
    law = BangBang(step_deg=step / cents_per_knob_degree(machine), deadband_cents=band)
    swings = []
    for start in np.linspace(-5.0, -4.0, 11):
        record = tune(machine, law, float(start) * step, driving=OVERLAPPED, wrapped=False)
        swings.append(np.ptp(readings(record)[-20:]))
    assert max(swings) > step / 2


@pytest.mark.parametrize("gain", [0.25, 0.5, 0.8])
def test_rounded_moves_leave_at_most_half_a_step_over_the_gain(gain):
    resolution_deg = 2.0
    machine = rig()
    machine = rig(motor=changed(machine.machine.motor, resolution_deg=resolution_deg))
    slope = cents_per_knob_degree(machine)
    bound = residual(resolution_deg * slope, gain)
    found = []
    for start in np.linspace(-20.0, -15.0, 15):
        law = Proportional(gain_deg_per_cent=gain / slope, deadband_cents=0.0)
        record = tune(machine, law, float(start), wrapped=False, driving=changed(DRIVING, most_missed=100))
        last = readings(record)[-5:]
        assert np.ptp(last) < 1e-9
        found.append(abs(last[-1]))
    assert max(found) <= bound * 1.02
    assert max(found) > bound * 0.5  # the bound is no idle one


@pytest.mark.parametrize("start", [-40.0, -41.3, -43.9, 38.2])
def test_spin_and_stop_overshoots_as_predicted(start):
    speed, band = 20.0, 1.0
    ear = changed(EAR, hop_s=0.05, window_s=0.01, computing_s=0.13)
    machine = rig(ear=ear, task=changed(TASK, time_limit_s=20.0))
    law = BangBangSpin(spin_deg_s=speed / cents_per_knob_degree(machine), deadband_cents=band)
    record = tune(machine, law, start, driving=TURNING)
    least, most = spin_overshoot(speed, latency_s(ear), ear.hop_s, band)
    first_crossing = _first_swing(record)
    assert least * 0.97 - 0.02 <= first_crossing <= most * 1.03 + 0.02


def _first_swing(record: Record) -> float:
    errors = course(record).error_cents
    side = math.copysign(1.0, errors[0])
    beyond = [-side * error for error in errors]
    back = next((place for place in range(1, len(beyond)) if 0 < beyond[place] < beyond[place - 1]), len(beyond))
    return beyond[back - 1]


DEAD_TIME_S = 0.2


def _turned_while_listening(hops: int, gain_per_s: float, readings_wanted: int) -> Record:
    """One run of proportional spin whose dead time is ``hops`` hops, from a little flat, never finished."""
    window_s = 1e-6
    hop_s = DEAD_TIME_S / hops
    ear = changed(EAR, hop_s=hop_s, window_s=window_s, computing_s=DEAD_TIME_S - window_s / 2)
    machine = rig(ear=ear, task=changed(TASK, pluck_limit=1))
    law = ProportionalSpin(gain_deg_s_per_cent=gain_per_s / cents_per_knob_degree(machine), deadband_cents=0.0)
    driving = changed(TURNING, readings_per_pluck=readings_wanted)
    return tune(machine, law, -SMALL, driving=driving, wrapped=False)


@pytest.mark.parametrize("hops", [1, 2, 4, 8, 32])
def test_dead_time_limit_matches_the_sampled_formula(hops):
    """Dead time of ``hops`` hops: critical gain ``2 sin(pi / (4 d + 2)) / hop``, tending to ``pi / (2 tau)``."""
    critical = critical_gain(hops) / (DEAD_TIME_S / hops)
    for share, grows in ((0.98, False), (1.02, True)):
        record = _turned_while_listening(hops, share * critical, min(1000, 200 * (hops + 1)))
        assert (growth(record) > 1.0) is grows
    assert critical * DEAD_TIME_S == pytest.approx(math.pi / 2, rel=0.6 / hops)


@pytest.mark.parametrize("hops", [2, 8, 32])
def test_limit_without_crossing_matches_the_sampled_formula(hops):
    """``d^d / (d+1)^(d+1) / hop``, tending to ``1 / (e tau)``: below it the pitch never crosses the target."""
    fastest = fastest_gain(hops) / (DEAD_TIME_S / hops)
    for share, crosses in ((0.98, False), (1.3, True)):
        record = _turned_while_listening(hops, share * fastest, 30 * (hops + 1))
        assert (max(readings(record)) > SMALL * 1e-9) is crosses
    assert fastest * DEAD_TIME_S == pytest.approx(1 / math.e, rel=0.6 / hops)


def test_sampled_limits_tend_to_the_continuous_ones():
    """Integrator with dead time: oscillates from ``K tau = pi/2``, crosses from ``1/e`` (any control text)."""
    hops = np.array([10, 100, 1000])
    assert np.allclose([critical_gain(d) * d for d in hops], math.pi / 2, rtol=[0.06, 0.006, 0.0006])
    far = [math.exp(d * math.log(d) - (d + 1) * math.log(d + 1)) * d for d in hops]
    assert np.allclose(far, 1 / math.e, rtol=[0.06, 0.006, 0.0006])
    assert fastest_gain(10) * 10 == pytest.approx(far[0])


def test_outcome_of_the_perfect_machine_is_finished():
    machine = rig()
    record = tune(
        machine, Proportional(gain_deg_per_cent=0.5 / cents_per_knob_degree(machine), deadband_cents=1.0), -50.0
    )
    assert record.outcome is Outcome.FINISHED
