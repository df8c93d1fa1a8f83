"""Laws on plants of one line, against closed forms (independent arithmetic unless a source is named)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controllers.halving import Halving
from controllers.inverse import Inverse
from controllers.proportional_integral import ProportionalIntegral
from controllers.secant import Secant
from controllers.theory import limit_cycle, stopping_half_band
from controllers.two_step import TwoStep
from tests.unit.controllers.plants import errors, tension_map, turns

STEEL = 8.43661  # cents per degree of the post: plain steel 0.254 mm, 648 of 750 mm, 329.628 Hz, radius 3 mm
EXACT = tension_map(STEEL)


def test_inverse_turns_by_the_exact_map() -> None:
    """11.1941 degrees for 100 cents flat of that string, where the slope at the target says 11.8532."""
    law = Inverse(believed_cents_per_deg=STEEL, deadband_cents=0.0)
    assert turns(law, [-100.0]) == [pytest.approx(11.1941, abs=5e-5)]


@given(start=st.floats(-600.0, 300.0), slope=st.floats(0.1, 100.0))
def test_inverse_with_the_right_belief_needs_one_turn(start: float, slope: float) -> None:
    law = Inverse(believed_cents_per_deg=slope, deadband_cents=0.0)
    assert errors(law, start, 1, plant=tension_map(slope))[-1] == pytest.approx(0.0, abs=1e-9)


def test_inverse_with_a_wrong_belief_leaves_its_share() -> None:
    """Slope 0.8 of what is believed, from 200 cents flat: -36.473, -7.173, -1.430."""
    law = Inverse(believed_cents_per_deg=STEEL / 0.8, deadband_cents=0.0)
    assert errors(law, -200.0, 3, plant=EXACT)[1:] == pytest.approx([-36.473, -7.173, -1.430], abs=5e-4)


@pytest.mark.parametrize(("ratio", "converges"), [(0.1, True), (1.9, True), (2.1, False)])
def test_inverse_converges_below_twice_the_believed_slope(ratio: float, converges: bool) -> None:
    law = Inverse(believed_cents_per_deg=STEEL / ratio, deadband_cents=0.0)
    assert (abs(errors(law, -1.0, 20, plant=EXACT)[-1]) < 1.0) is converges


@pytest.mark.parametrize("kind", [Inverse, Secant])
def test_without_a_belief_nothing_moves(kind: type) -> None:
    more = {} if kind is Inverse else {"first_gain": 1.0, "believed_spread_cents": 0.0, "learns_from_reversals": True}
    assert turns(kind(believed_cents_per_deg=0.0, deadband_cents=0.0, **more), [-50.0, 50.0]) == [0.0, 0.0]


def secant(**changes: object) -> Secant:
    usual = {"believed_cents_per_deg": STEEL, "first_gain": 1.0, "believed_spread_cents": 0.0}
    return Secant(**{**usual, "learns_from_reversals": True, "deadband_cents": 0.0, **changes})


def test_secant_converges_as_the_method_does() -> None:
    found = errors(secant(), -200.0, 4, plant=EXACT)
    assert found[1:4] == pytest.approx([21.162844, 2.282857, -0.028160], abs=5e-7)
    assert abs(found[4]) < 1e-4


def test_cautious_secant_goes_half_way_until_it_has_learnt() -> None:
    found = errors(secant(first_gain=0.5, believed_cents_per_deg=2.0 * STEEL), -40.0, 2, plant=EXACT)
    assert found[1] == pytest.approx(-30.0, abs=0.5)  # half of the error, by a belief twice too large: a quarter
    assert abs(found[2]) < 1.0  # then by what that turn has shown


@pytest.mark.parametrize(("spread", "learns"), [(1.0, True), (2.0, False)])
def test_secant_learns_only_what_exceeds_five_spreads_of_a_difference(spread: float, learns: bool) -> None:
    """A change of 10 cents: 5 sqrt(2) spreads are 7.07 and 14.1."""
    law = secant(believed_spread_cents=spread, learns_from_reversals=False, believed_cents_per_deg=1.0)
    assert turns(law, [-20.0, -10.0]) == [20.0, pytest.approx(20.0 if learns else 10.0)]


@pytest.mark.parametrize(("learns", "second"), [(False, -10.0), (True, -20.0 / 3.0)])
def test_secant_learns_from_a_reversal_only_when_told_to(learns: bool, second: float) -> None:
    law = secant(learns_from_reversals=learns, believed_cents_per_deg=1.0)
    found = turns(law, [20.0, -10.0, 10.0])  # the first turn loosens a string that was tightened last
    assert found[1] == pytest.approx(10.0 if not learns else 20.0 / 3.0)


def test_secant_is_held_within_three_times_its_belief() -> None:
    law = secant(believed_cents_per_deg=1.0)
    assert turns(law, [-40.0, -39.0])[1] == pytest.approx(39.0 * 3.0)
    assert turns(law, [-40.0, 400.0])[1] == pytest.approx(-400.0 / 3.0)


def test_secant_does_not_learn_from_a_change_the_wrong_way() -> None:
    assert turns(secant(believed_cents_per_deg=1.0), [-40.0, -60.0]) == [40.0, 60.0]


def test_secant_learns_from_what_a_wrapper_made_of_its_turn() -> None:
    law = secant(believed_cents_per_deg=1.0)
    _, memory = law.update(law.start(None), _read(-40.0))
    command, _ = law.update(law.turned(memory, 10.0), _read(-20.0))
    assert command.angle_deg == pytest.approx(10.0)  # 20 cents came of 10 degrees


def _read(cents: float):
    from controllers.checks import reading

    return reading(cents)


HALVING = {"first_step_deg": 80.0, "least_step_deg": 1.25}
STARTS = [float(start) for start in np.arange(-150.0, 150.0, 0.37)]


def _after_shrinking(when: str, play_deg: float, deadband: float = 0.0) -> float:
    """Worst error over all starts once the steps have shrunk from 80 to 1.25: seven turns."""
    law = Halving(**HALVING, when=when, deadband_cents=deadband)
    return max(abs(errors(law, start, 7, play_deg=play_deg)[-1]) for start in STARTS)


def test_halving_every_reading_ends_within_its_last_step() -> None:
    assert 1.2 < _after_shrinking("every reading", 0.0) <= 1.25


@pytest.mark.parametrize("play", [5.0, 10.0, 20.0, 40.0])
def test_halving_every_reading_may_miss_by_play_and_least_step(play: float) -> None:
    assert play + 0.9 < _after_shrinking("every reading", play) <= play + 1.25


@given(start=st.floats(-160.0, 160.0))
def test_halving_keeps_the_error_within_the_last_step(start: float) -> None:
    """``|c_k| <= 2 s_k``, the invariant of bisection, for a start within two first steps."""
    law = Halving(first_step_deg=80.0, least_step_deg=1e-3, when="every reading", deadband_cents=0.0)
    found = errors(law, start, 12)
    assert all(abs(cents) <= 2.0 * 80.0 / 2.0**k + 1e-9 for k, cents in enumerate(found))


@pytest.mark.parametrize("play", [0.0, 10.0, 40.0])
def test_halving_on_sign_change_stops_in_its_band_whatever_the_play(play: float) -> None:
    law = Halving(**HALVING, when="sign change", deadband_cents=0.625)
    assert max(abs(errors(law, start, 400, play_deg=play)[-1]) for start in STARTS[::20]) <= 0.625


def test_halving_on_sign_change_keeps_its_step_while_the_side_is_the_same() -> None:
    law = Halving(**HALVING, when="sign change", deadband_cents=1.0)
    assert turns(law, [-300.0, -200.0, None, 40.0, 0.5, 30.0, -3.0]) == [80.0, 80.0, 0.0, -40.0, 0.0, -40.0, 20.0]


def test_halving_makes_the_same_turn_of_an_octave_error() -> None:
    law = Halving(**HALVING, when="every reading", deadband_cents=1.0)
    assert turns(law, [-1260.0]) == turns(law, [-60.0])


def pi(gain: float, integral: float, deadband: float = 0.0, most: float = 1e6) -> ProportionalIntegral:
    return ProportionalIntegral(
        gain_deg_per_cent=gain, integral_deg_per_cent=integral, most_integral_deg=most, deadband_cents=deadband
    )


@pytest.mark.parametrize(("gain", "most"), [(0.5, 3.0), (1.0, 2.0), (1.5, 1.0)])
@pytest.mark.parametrize(("share", "stable"), [(0.97, True), (1.03, False)])
def test_pi_is_stable_below_four_less_twice_the_gain(gain: float, most: float, share: float, stable: bool) -> None:
    integral = share * most
    roots = np.roots([1.0, gain + integral - 2.0, 1.0 - gain])
    assert bool(max(abs(roots)) < 1.0) is stable
    found = errors(pi(gain, integral), -1e-3, 600)
    assert (abs(found[-1]) + abs(found[-2]) < 1e-3) is stable


@pytest.mark.parametrize("start", [-20.0, -5.0, 3.0, 10.0, 40.0])
def test_pi_hunts_over_play(start: float) -> None:
    """Peak to peak 0.3023 of the play, 30.2 readings a round, from wherever it starts."""
    found = np.array(errors(pi(0.5, 0.1), start, 4000, play_deg=10.0)[2000:])
    assert np.ptp(found) == pytest.approx(3.023, abs=2e-3)
    rises = np.flatnonzero((found[:-1] < 0.0) & (found[1:] >= 0.0))
    assert (rises[-1] - rises[0]) / (len(rises) - 1) == pytest.approx(30.2, abs=0.1)


@pytest.mark.parametrize("start", [-20.0, -5.0, 10.0])
def test_a_deadband_of_half_the_play_stops_pi(start: float) -> None:
    found = errors(pi(0.5, 0.1, deadband=5.0), start, 400, play_deg=10.0)
    assert np.ptp(found[-50:]) == 0.0
    assert abs(found[-1]) <= 5.0


@pytest.mark.parametrize("creep", [-0.5, -2.0])
def test_pi_leaves_no_error_to_a_steady_creep_and_p_does(creep: float) -> None:
    """A ramp of ``v`` cents a reading leaves ``v / K`` behind without the integral, nothing with it."""

    def settled(law: ProportionalIntegral) -> float:
        return errors(law, -30.0, 300, plant=lambda cents, turn: cents + turn + creep)[-1]

    assert settled(pi(0.5, 0.0)) == pytest.approx(creep / 0.5)
    assert settled(pi(0.5, 0.1)) == pytest.approx(0.0, abs=1e-9)


def test_the_integral_is_held_and_frozen() -> None:
    law = pi(1.0, 1.0, deadband=2.0, most=15.0)
    assert turns(law, [-10.0, -10.0, 1.0, None, -10.0]) == [20.0, 25.0, 0.0, 0.0, 25.0]


def two_step(large: float, small: float, near: float, deadband: float) -> TwoStep:
    return TwoStep(large_step_deg=large, small_step_deg=small, near_cents=near, deadband_cents=deadband)


@pytest.mark.parametrize("delay", [0, 1, 2, 3])
def test_two_steps_stop_when_each_band_holds_its_step(delay: int) -> None:
    law = two_step(9.0, 2.0, stopping_half_band(9.0, delay), stopping_half_band(2.0, delay))
    for start in np.linspace(-60.0, 60.0, 61):
        found = errors(law, float(start), 200, delay=delay)
        assert np.ptp(found[-30:]) == 0.0
        assert abs(found[-1]) <= law.deadband_cents


def test_a_large_step_beyond_its_zone_jumps_over_it_for_ever() -> None:
    law = two_step(9.0, 1.0, 4.0, 1.0)
    assert max(np.ptp(errors(law, float(start), 200)[-30:]) for start in np.linspace(-60, 60, 241)) == pytest.approx(
        9.0
    )


@pytest.mark.parametrize("delay", [0, 1, 2])
def test_near_the_target_two_steps_cycle_like_one(delay: int) -> None:
    """Relay without deadband: ``(2d + 1) s`` peak to peak, period ``4d + 2``."""
    found = errors(two_step(50.0, 2.0, 1e3, 0.0), -14.6, 200, delay=delay)[100:]
    swing, period = limit_cycle(2.0, delay)
    assert np.ptp(found) == pytest.approx(swing)
    assert found[period:] == pytest.approx(found[:-period])


def test_two_steps_arrive_sooner_than_the_small_one() -> None:
    far, near, band = 50.0, 5.0, 1.0
    readings = len([turn for turn in np.diff(errors(two_step(9.0, 2.0, near, band), -far, 60)) if turn])
    assert readings <= math.ceil((far - near) / 9.0) + math.ceil(near / 2.0)
