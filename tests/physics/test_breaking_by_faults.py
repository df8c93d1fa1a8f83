"""What breaks a string and what stops it, against closed forms on a machine whose every number is known."""

import math
from dataclasses import replace

import pytest

from controllers.guards.motor_current import MotorCurrent
from controllers.guards.tightening_budget import TighteningBudget
from controllers.proportional import Proportional
from models.faults.driver import ReversedSign
from models.faults.octave import OctaveLow
from models.faults.weak_string import Corroded
from models.messages import Turn
from scenarios.load import load_rig
from sim.build import Rig
from sim.evaluate import record_of
from sim.guarded import brings, stops, trips
from sim.trace import Outcome
from tests.loop import rigs

GAIN = 0.3  # degrees a cent


def hertz(machine: Rig, tension_n: float) -> float:
    """Return Mersenne's law with the unit weight thinning as the string stretches."""
    string = machine.chain.string
    return math.sqrt(tension_n * (1.0 + tension_n / string.ea_n) / string.mass_n_s2)


def moves_to_break(machine: Rig, start_cents: float) -> int:
    """Return after how many moves of a proportional law that hears an octave low a string breaks: by recursion.

    Each move winds ``gain (1200 - e)`` degrees of the knob; tension is in proportion to winding.
    """
    string = machine.chain.string
    tension = string.tension_at_hz(string.target_hz * 2.0 ** (start_cents / 1200.0))
    for move in range(1, 100):
        error = 1200.0 * math.log2(hertz(machine, tension) / string.target_hz)
        tension += GAIN * (1200.0 - error) / machine.chain.ratio * machine.chain.newton_per_deg
        if tension >= string.breaking_n:
            return move
    raise AssertionError("it does not break")


@pytest.mark.parametrize("start_cents", [-900.0, -400.0, -60.0, 0.0, 60.0])
def test_an_octave_low_reading_breaks_e4_at_the_move_that_the_closed_form_predicts(start_cents: float):
    machine = replace(rigs.rig(), faults={"octave": OctaveLow()})
    controller = Proportional(gain_deg_per_cent=GAIN, deadband_cents=1.0)
    record = rigs.tune(machine, controller, start_cents)
    turned = [command for _, command in record.commands if isinstance(command, Turn)]
    assert record.outcome is Outcome.STRING_BROKE
    assert len(turned) == moves_to_break(machine, start_cents)


def test_a_weak_string_breaks_at_its_share_of_strength():
    """Breaking tension is strength times area: a factor on one is a factor on the other."""
    sound = rigs.rig().chain
    weak = sound.restrung(replace(sound.string, breaking_n=sound.string.breaking_n * 0.62))
    assert Corroded().strength_left == 0.62
    assert weak.string.tension_at_hz(329.6) == sound.string.tension_at_hz(329.6)
    assert weak.string.breaking_n == pytest.approx(0.62 * sound.string.breaking_n)


@pytest.mark.parametrize("factor", [0.8, 1.0, 1.3, 2.0])
def test_stress_at_pitch_depends_on_no_gauge(factor: float):
    """``sigma = rho (2 L f)^2``: a wire d times as thick takes d^2 the tension, at the same share of breaking."""
    from models.faults.base import Built
    from models.faults.other_string import WrongGauge

    machine = rigs.rig()
    other = WrongGauge(diameter_factor=factor).alter(Built(machine.chain, machine.machine, 0.0)).chain.string
    string, target = machine.chain.string, machine.chain.string.target_hz
    assert other.tension_at_hz(target) == pytest.approx(factor**2 * string.tension_at_hz(target), rel=1e-9)
    assert other.reserve_cents() == pytest.approx(string.reserve_cents(), abs=1e-9)


def test_breaking_pitch_moves_with_strength_alone():
    """``f_max = sqrt(strength / rho) / 2L`` to first order: half the strength is half an octave."""
    string = rigs.rig().chain.string
    weak = replace(string, breaking_n=string.breaking_n / 2.0)
    assert string.reserve_cents() - weak.reserve_cents() == pytest.approx(600.0, abs=15.0)


def test_a_net_budget_misses_the_sign_error_and_an_absolute_one_stops_it_before_it_breaks():
    machine = replace(rigs.rig(), faults={"sign": ReversedSign()})
    record = rigs.tune(machine, Proportional(gain_deg_per_cent=GAIN, deadband_cents=1.0), 60.0)
    assert record.outcome is Outcome.STRING_BROKE
    slope = rigs.cents_per_knob_degree(machine)
    limits = {"most_deg": 200.0, "cents_per_deg": slope, "low_cents": -160.0, "high_cents": 160.0}
    guards = {"net": TighteningBudget(**limits, net=True), "absolute": TighteningBudget(**limits)}
    tripped = trips(record, guards)
    assert tripped["net"] is None
    stopped = stops(record, brings(guards), tripped)["absolute"]
    assert not stopped.broken
    assert stopped.percent_of_breaking < 100.0


def test_a_current_guard_stops_a_runaway_at_the_predicted_torque_coasting_included():
    """Current is a straight line in torque, torque in tension: the limit's tension follows by two divisions."""
    scenario = load_rig("gear-motor", changes=['faults.a.kind="runaway"', "faults.a.from_reading=2", 'nut.part="free"'])
    record = record_of(scenario, scenario.strategies[0].name, "E4")
    path, chain = record.instrument.paths["E4"], record.rig.chain
    piece = max((each.piece for each in path.stretches), key=lambda each: each.duration_s)
    tension = 0.9 * chain.string.breaking_n
    limit_a = piece.current_a + piece.current_a_per_nm * chain.turning_nm(tension, 1)
    hold_s = 0.1  # outlasts the surge of a start
    guards = {"current": MotorCurrent(most_a=limit_a, hold_s=hold_s)}
    stopped = stops(record, brings(guards), trips(record, guards))["current"]
    newton_per_shaft_deg = chain.newton_per_deg / chain.ratio
    at_trip = tension + newton_per_shaft_deg * piece.final_deg_s * hold_s
    at_rest = tension + newton_per_shaft_deg * piece.speed_deg_s * (hold_s + 1.0 / piece.rate_per_s)
    assert not stopped.broken
    assert stopped.percent_of_breaking >= 100.0 * at_trip / chain.string.breaking_n - 0.1
    assert stopped.percent_of_breaking <= 100.0 * at_rest / chain.string.breaking_n + 0.1
