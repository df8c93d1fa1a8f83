"""How runs go and how they end: timing, breaking, stalling, re-gripping, hearing, and determinism."""

import math
from itertools import pairwise

import pytest
import simpy

from controllers.bang_bang import BangBang
from controllers.bang_bang_spin import BangBangSpin
from controllers.proportional import Proportional
from models.hearing.base import latency_s
from models.messages import DONE, LISTEN, Done, Reading, Turn
from models.motors.servo import PositionalServo
from models.units import NANOSECONDS, cents
from sim.corners import course, trace
from sim.loop import Record
from sim.metrics import measured
from sim.trace import Outcome
from tests.loop.rigs import DRIVING, EAR, HEAD, PLAYER, TASK, cents_per_knob_degree, changed, rig, tune

SERVO = PositionalServo(
    travel_deg=180.0, pulse_span_us=2000.0, pulse_step_us=0.0, pulse_deadband_us=0.0, speed_ref_deg_s=360.0,
    stall_torque_ref_nm=0.9, reference_v=6.0, droop_band_deg=0.0, run_current_a=0.5, stall_current_a=2.5, frame_ms=20.0,
)  # fmt: skip


class Once:
    """Turns by an angle at the first reading and is done at the second."""

    def __init__(self, angle_deg: float) -> None:
        self.angle_deg = angle_deg

    def start(self, task, kept=None):
        return 0

    def update(self, memory, reading):
        return (Turn(self.angle_deg) if memory == 0 else DONE), memory + 1


def once(machine, angle_deg: float, start_cents: float = 0.0) -> Record:
    return tune(machine, Once(angle_deg), start_cents, wrapped=False)


def half_gain(machine) -> Proportional:
    return Proportional(gain_deg_per_cent=0.5 / cents_per_knob_degree(machine), deadband_cents=1.0)


def test_string_breaks_at_its_breaking_tension_not_at_the_end_of_the_move():
    slow = changed(rig().machine.motor, speed_limit_deg_s=100.0)
    machine = rig(motor=slow)
    string = machine.chain.string
    record = once(machine, 2000.0)
    found = course(record)
    assert record.outcome is Outcome.STRING_BROKE
    assert found.highest_n == pytest.approx(string.breaking_n, rel=1e-9)
    assert math.isnan(found.error_cents[-1])
    knob_deg = (string.breaking_n - trace(record).tension_n[0]) / machine.chain.newton_per_deg * machine.chain.ratio
    pluck, window = 1.0 + EAR.skip_s, EAR.window_s
    assert found.end_s == pytest.approx(pluck + window + knob_deg / 100.0, abs=2e-9)
    assert found.end_s < pluck + window + 20.0
    assert measured(found)["percent_of_breaking"] == pytest.approx(100.0)


def test_string_that_starts_beyond_its_strength_breaks_untouched():
    machine = rig()
    record = tune(machine, half_gain(machine), machine.chain.string.reserve_cents() + 50.0)
    assert (record.outcome, record.end_ns, len(record.readings)) == (Outcome.STRING_BROKE, 0, 0)
    assert measured(course(record))["percent_of_breaking"] == pytest.approx(100.0)


def test_servo_turns_on_with_a_slack_string():
    """A slack string loads nothing and has no end; the shaft still goes where it was asked."""
    record = once(rig(motor=changed(SERVO, travel_deg=3600.0)), -1700.0)
    seen = trace(record)
    assert seen.tension_n[-1] == 0.0
    assert sum(seen.moves_deg) == pytest.approx(-1700.0, abs=1e-6)


def test_plucks_faster_than_their_readings_keep_the_order_of_windows():
    """Ten readings a pluck of 0.5 s each, plucked every second: windows follow each other hop by hop."""
    machine = rig(ear=changed(EAR, hop_s=0.5))
    driving = changed(DRIVING, driving="overlapped", readings_per_pluck=10)
    record = tune(machine, half_gain(machine), -30.0, driving=driving, wrapped=False)
    centres = [reading.centre_s for reading in record.readings]
    assert len(centres) > 100
    assert all(late - early >= 0.5 - 2e-9 for early, late in pairwise(centres))


def test_weak_motor_stalls_mid_move_at_its_stall_torque():
    machine = rig(motor=changed(SERVO, stall_torque_ref_nm=0.045, travel_deg=720.0))
    record = once(machine, 300.0)
    seen = trace(record)
    assert record.outcome is Outcome.STALLED
    assert 0.0 < sum(seen.moves_deg) < 300.0
    assert seen.torque_nm.max() == pytest.approx(0.045, rel=2e-3)


def test_motor_that_cannot_even_start_stalls_at_once():
    record = once(rig(motor=changed(SERVO, stall_torque_ref_nm=0.02)), 90.0)
    assert record.outcome is Outcome.STALLED
    assert measured(course(record))["turned_deg"] == 0.0


@pytest.mark.parametrize(("angle_deg", "strokes"), [(80.0, 0), (100.0, 1), (90.0 + 170.0, 1), (90.0 + 190.0, 2)])
def test_turn_beyond_the_travel_is_made_in_strokes(angle_deg, strokes):
    """From mid-travel 90 degrees are left, each further stroke has 180."""
    record = once(rig(motor=SERVO), -angle_deg)
    assert len(record.regrips_ns) == strokes
    assert sum(trace(record).moves_deg) == pytest.approx(-angle_deg, abs=1e-6)
    fastest = strokes * PLAYER.regrip_s + angle_deg / SERVO.speed_ref_deg_s
    assert record.end_ns / NANOSECONDS > fastest


def test_without_regripping_the_travel_is_used_up():
    record = once(rig(motor=SERVO, regrip=False), -100.0)
    assert record.outcome is Outcome.TRAVEL_USED_UP


def test_finished_is_a_belief_and_in_tune_the_truth():
    """An ear 20 cents off makes the machine stop 20 cents off, sure of itself."""
    machine = rig(ear=changed(EAR, clock_ppm=11619.0))  # reads 20 cents flat: 2^(20/1200) - 1
    record = tune(machine, half_gain(machine), -50.0)
    found = measured(course(record))
    assert record.outcome is Outcome.FINISHED
    assert found["finished"] and not found["in_tune"]
    assert found["final_error_cents"] == pytest.approx(20.0, abs=machine.task.tolerance_cents)


def test_nothing_is_heard_below_the_floor_until_a_fresh_pluck():
    """60 dB in T60 = 5 s from 30 dB down to 6 dB: silent after 2 s."""
    quiet = changed(EAR, fresh_snr_db=30.0, floor_snr_db=6.0, hop_s=0.25)
    machine = rig(ear=quiet)
    law = BangBang(step_deg=0.5, deadband_cents=0.5)
    record = tune(machine, law, -20.0, driving=changed(DRIVING, readings_per_pluck=100))
    first = [reading for reading in record.readings if reading.pluck == 1]
    assert [reading.cents is None for reading in first] == [False] * (len(first) - 1) + [True]
    assert first[-2].centre_s - 1.0 < 2.0 <= first[-1].centre_s - 1.0
    assert any(reading.pluck == 2 and reading.cents is not None for reading in record.readings)


def test_deaf_ear_ends_in_giving_up():
    machine = rig(ear=changed(EAR, missed_share=1.0))
    record = tune(machine, half_gain(machine), -20.0)
    assert record.outcome is Outcome.GAVE_UP
    assert len(record.readings) == DRIVING.most_missed + 1


def test_limits_of_plucks_and_time():
    machine = rig(task=changed(TASK, pluck_limit=3))
    record = tune(machine, BangBang(step_deg=0.1, deadband_cents=0.5), -50.0)
    assert record.outcome is Outcome.PLUCK_LIMIT
    assert len(record.readings) == 3
    machine = rig(task=changed(TASK, time_limit_s=4.5))
    record = tune(machine, BangBang(step_deg=0.1, deadband_cents=0.5), -50.0)
    assert record.outcome is Outcome.TIME_LIMIT
    assert record.end_ns == 4_500_000_000


def test_step_driving_reads_at_the_stated_instants():
    """Pluck + skip + window + computing + link; then move, dead time and the next pluck."""
    ear = changed(EAR, computing_s=0.03, link_s=0.002)
    machine = rig(ear=ear, motor=changed(rig().machine.motor, speed_limit_deg_s=50.0))
    record = once(machine, 25.0, -20.0)
    first, second = record.readings
    assert first.arrival_s == pytest.approx(1.0 + 0.05 + 0.02 + 0.032, abs=2e-9)
    assert first.centre_s == pytest.approx(first.arrival_s - latency_s(ear), abs=2e-9)
    assert second.arrival_s == pytest.approx(2 * first.arrival_s + 0.5 + DRIVING.dead_time_s, abs=4e-9)


def test_reading_of_a_moving_string_is_the_mean_over_its_window():
    """A ramp read over a window is its value at the window's centre, to the curvature of the tension map."""
    ear = changed(EAR, window_s=0.2, hop_s=0.1, skip_s=0.05)
    machine = rig(ear=ear)
    slope = cents_per_knob_degree(machine)
    law = BangBangSpin(spin_deg_s=20.0 / slope, deadband_cents=2.0)
    record = tune(machine, law, -60.0, driving=changed(DRIVING, driving="turning", readings_per_pluck=1000))
    moving = [reading for reading in record.readings if reading.moving][3:20]
    assert len(moving) == 17
    for reading in moving:
        tension = record.instrument.tension_n(machine.string, round(reading.centre_s * NANOSECONDS))
        truth = cents(machine.chain.string.first_partial_hz(tension), machine.chain.string.target_hz)
        assert reading.cents == pytest.approx(truth, abs=0.01)
        assert abs(truth) > 3.0  # far from rest: a value at the window's end would be 2 cents off


def test_crashing_controller_is_an_outcome_that_says_why():
    class Broken(Once):
        def update(self, memory, reading: Reading):
            raise ZeroDivisionError("gain of nothing")

    record = tune(rig(), Broken(1.0), -10.0, wrapped=False)
    assert record.outcome is Outcome.CRASHED
    assert record.detail == "ZeroDivisionError: gain of nothing"


def test_controller_that_does_not_start_crashes_the_run_and_not_the_series():
    class Stillborn(Once):
        def start(self, task, kept=None):
            raise OSError("no memory left")

    record = tune(rig(), Stillborn(1.0), -10.0, wrapped=False)
    assert record.outcome is Outcome.CRASHED
    assert record.detail == "OSError: no memory left"
    assert measured(course(record))["plucks"] == 0


@pytest.mark.parametrize("answer", [Turn(math.nan), Turn(math.inf), "turn", None])
def test_answers_that_are_no_command_crash_the_run(answer):
    class Odd(Once):
        def update(self, memory, reading):
            return answer, memory

    assert tune(rig(), Odd(1.0), -10.0, wrapped=False).outcome is Outcome.CRASHED


def test_equal_input_gives_equal_runs_and_other_runs_differ():
    machine = rig(ear=changed(EAR, reading_cents=1.0, pluck_cents=1.0), player=changed(PLAYER, pluck_spread=0.3))
    law = half_gain(machine)
    one, two = (course(tune(machine, law, -50.0, run=7)) for _ in range(2))
    assert one == two
    assert course(tune(machine, law, -50.0, run=8)) != one
    assert course(tune(machine, law, -50.0, run=7, seed=2)) != one


def test_a_thousand_looks_change_no_bit():
    machine = rig(motor=SERVO, slop_deg=3.0)
    record = once(machine, -200.0)
    plain = course(record)
    instrument = record.instrument
    for look in range(1000):
        instrument.heard_hz(machine.string, look * 1_000_000, (look + 20) * 1_000_000, "effective")
        instrument.tension_n(machine.string, look * 7_000_000)
    assert course(record) == plain


def test_strategies_meet_the_same_plucks():
    machine = rig(player=changed(PLAYER, pluck_spread=0.4, level_spread_db=3.0))
    fast, slow = (tune(machine, BangBang(step_deg=step, deadband_cents=3.0), -50.0) for step in (8.0, 3.0))
    waits = [pluck - before for pluck, before in zip(_plucks(fast), _ends(fast), strict=False)]
    others = [pluck - before for pluck, before in zip(_plucks(slow), _ends(slow), strict=False)]
    assert len(waits) > 3
    assert waits == pytest.approx(others[: len(waits)], abs=1e-6)


def _plucks(record: Record) -> list[float]:
    return trace(record).plucks_s


def _ends(record: Record) -> list[float]:
    """When the player is asked for each pluck: at the start, and after each move and dead time."""
    stretches = record.instrument.paths[record.rig.string].stretches
    return [0.0, *(stretch.end_ns / NANOSECONDS + DRIVING.dead_time_s for stretch in stretches)]


def test_a_step_and_listen_run_costs_one_event_a_pluck(monkeypatch):
    """At most three events a pluck are allowed; process start and end are two more a run."""
    stepped = 0
    step = simpy.Environment.step

    def counting(self):
        nonlocal stepped
        stepped += 1
        step(self)

    monkeypatch.setattr(simpy.Environment, "step", counting)
    machine = rig()
    plucks = len(tune(machine, half_gain(machine), -50.0).readings)
    assert stepped <= plucks + 2


def test_no_generator_is_built_and_nothing_is_validated_in_a_run(monkeypatch):
    import numpy as np

    from sim.seeds import Chance, Streams

    streams, machine = Streams(1), rig(motor=SERVO)
    law = half_gain(machine)
    for name in ("Generator", "Philox", "SeedSequence", "PCG64", "default_rng"):
        monkeypatch.setattr(np.random, name, _forbidden)
    for kind in (PositionalServo, type(HEAD), type(EAR), type(TASK), type(PLAYER), type(DRIVING), Proportional):
        monkeypatch.setattr(kind, "__init__", _forbidden)
    from controllers.wrappers.retry import Retry
    from sim.loop import simulate
    from sim.plan import Plan

    record = simulate(machine, Plan(Retry(law, 3), DRIVING), machine.begins(-30.0), Chance(streams, machine.string, 5))
    assert record.readings


def test_a_series_validates_once_a_specimen_and_not_once_a_run(monkeypatch):
    from scenarios.load import load_rig
    from sim.evaluate import Bench
    from sim.series.row import Item

    scenario = load_rig("default")
    bench = Bench((scenario,), 1)
    bench.record(Item(0, 1, 0, 0, 0))
    parts = [
        scenario.setting,
        scenario.coupler,
        scenario.motor,
        scenario.supply,
        scenario.player,
        scenario.acceptance,
        *scenario.ears.values(),
    ]
    parts += [scenario.strings["E2"], scenario.heads["E2"], scenario.strategies[1].controllers["E2"]]
    for kind in {part.kind for part in parts}:
        monkeypatch.setattr(kind, "__init__", _forbidden)
    assert bench.record(Item(0, 1, 0, 0, 1)).readings


def _forbidden(*args, **kwargs):
    raise AssertionError("built or validated inside a run")


def test_listening_on_costs_no_motion_and_done_ends_the_run():
    class Patient(Once):
        def update(self, memory, reading):
            return (LISTEN if memory < 2 else Done()), memory + 1

    record = tune(rig(), Patient(0.0), -10.0, wrapped=False, driving=changed(DRIVING, readings_per_pluck=5))
    assert [reading.pluck for reading in record.readings] == [1, 1, 1]
    gaps = [late.centre_s - early.centre_s for early, late in pairwise(record.readings)]
    assert gaps == pytest.approx([max(EAR.hop_s, EAR.window_s)] * 2, abs=2e-9)
    assert sum(map(abs, trace(record).moves_deg)) == 0.0


def test_a_head_that_does_not_lock_cannot_be_regripped():
    """With lead angle 10 and friction 0.10 the string drives the worm back (tan(l) > mu): no hand may let go."""
    from scenarios.load import load_rig
    from sim.build import build

    locking = build(load_rig("default"), "E2")
    loose = build(load_rig("default", changes=["head.lead_angle_deg=10", "head.worm_friction=0.10"]), "E2")
    assert (locking.machine.regrip, loose.machine.regrip) == (True, False)
