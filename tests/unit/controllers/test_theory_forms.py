"""Formulas of the loop against iterations of it written here (independent arithmetic unless a source is named)."""

import math
from itertools import islice, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import solve_discrete_lyapunov

from controllers.theory import (
    critical_gain,
    fastest_gain,
    halving_readings,
    largest_sure_step,
    moves_to_rest,
    relay_moves,
    residual,
    stopping_half_band,
    truncated_residual,
)
from controllers.theory_belief import error_factor, secant_error, secant_moves, shrinking_moves, wrong_median_share
from controllers.theory_linear import (
    averaged_critical_gain,
    critical_gain_with_integral,
    linear_errors,
    most_integral,
    noise_gain,
    open_loop,
    smoothed_critical_gain,
)
from controllers.theory_play import empty_moves, halving_error, play_gain, play_hunting


def play(position: float, shaft: float, gap: float) -> float:
    return max(shaft - gap / 2.0, min(shaft + gap / 2.0, position))


def test_critical_and_fastest_gains() -> None:
    """Critical gain after Levin & May 1976 (from memory); double root of ``z^(d+1) - z^d + K`` for the fastest."""
    assert [critical_gain(d) for d in range(5)] == pytest.approx([2, 1, 0.618034, 0.445042, 0.347296], abs=5e-7)
    assert [fastest_gain(d) for d in (1, 2, 3)] == pytest.approx([0.25, 0.148148, 0.105469], abs=5e-7)
    for d in (1, 2, 3):
        z = d / (d + 1)
        assert z ** (d + 1) - z**d + fastest_gain(d) == pytest.approx(0.0, abs=1e-12)
        assert (d + 1) * z**d - d * z ** (d - 1) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("gain", "decisions", "settles", "overshoot"),
    [(0.5, 0, 6, 0), (1.5, 0, 6, 50), (0.25, 1, 9, 0), (0.5, 1, 11, 25), (0.8, 1, 37, 76), (0.25, 2, 14, 14.0625),
     (0.25, 3, 32, 37.5), (0.4, 3, 184, 92)],
)  # fmt: skip
def test_unit_step(gain: float, decisions: int, settles: int, overshoot: float) -> None:
    """Samples until the output, as it is read, stays within 2 %, and its overshoot in percent."""
    errors = [-1.0] * decisions + list(islice(linear_errors(-1.0, gain, decisions), 1000))
    assert max(place for place, error in enumerate(errors) if abs(error) > 0.02) + 1 == settles
    assert 100.0 * max(0.0, *errors) == pytest.approx(overshoot, abs=0.5 if gain > 0.7 or decisions == 3 else 1e-9)


@pytest.mark.parametrize(("share", "decisions"), [*product([0.05, 0.2, 0.5], [0, 1, 2]), (0.0, 3)])
def test_critical_gain_with_integral_puts_a_root_on_the_unit_circle(share: float, decisions: int) -> None:
    gain = critical_gain_with_integral(share, decisions)
    above, below = open_loop(gain, share * gain)
    polynomial = np.polyadd([*below, *[0.0] * decisions], above)
    assert max(abs(np.roots(polynomial))) == pytest.approx(1.0, abs=1e-7)


@pytest.mark.parametrize(("gain", "most"), [(0.5, 3.0), (1.0, 2.0), (1.5, 1.0)])
def test_integral_is_stable_below_its_limit(gain: float, most: float) -> None:
    """Jury's criterion; the roots agree."""
    assert most_integral(gain) == most
    for share, stable in ((0.99, True), (1.01, False)):
        roots = np.roots([1.0, gain + share * most - 2.0, 1.0 - gain])
        assert bool(max(abs(roots)) < 1.0) is stable
    assert critical_gain_with_integral(most / gain, 0) == pytest.approx(gain, abs=1e-9)


def test_no_gain_is_stable_where_the_integral_leads_the_delay() -> None:
    assert critical_gain_with_integral(1.0, 3) == 0.0


@pytest.mark.parametrize(("readings", "published"), [(1, 2.0), (2, 2.0), (3, 1.5), (4, 1.17), (5, 0.95)])
def test_average_across_moves(readings: int, published: float) -> None:
    gain = averaged_critical_gain(readings)
    assert gain == pytest.approx(published, abs=6e-3)
    polynomial = np.polyadd([1.0, -1.0, *[0.0] * (readings - 1)], [gain / readings] * readings)
    assert max(abs(np.roots(polynomial))) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("weight", [0.2, 0.5, 1.0])
def test_smoothing_across_moves(weight: float) -> None:
    """``s' = s + a (y - s)``, ``c' = c - K s'``."""
    gain = smoothed_critical_gain(weight)
    matrix = np.array([[1.0 - gain * weight, -gain * (1.0 - weight)], [weight, 1.0 - weight]])
    assert max(abs(np.linalg.eigvals(matrix))) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize(("gain", "decisions", "found"), [(0.25, 0, 0.378), (0.5, 0, 0.57735), (1.0, 0, 1.0),
                                                          (0.25, 1, 0.4303), (0.5, 1, 0.7746)])  # fmt: skip
def test_noise(gain: float, decisions: int, found: float) -> None:
    assert noise_gain(gain, decisions) == pytest.approx(found, abs=6e-5)


@pytest.mark.parametrize(("share", "decisions"), list(product([0.1, 0.6, 0.95], [0, 1, 2, 3])))
def test_noise_against_the_stationary_covariance(share: float, decisions: int) -> None:
    gain = share * critical_gain(decisions)
    matrix = np.eye(decisions + 1, k=-1)
    matrix[0, 0] += 1.0
    matrix[0, decisions] -= gain
    driven = np.zeros((decisions + 1, decisions + 1))
    driven[0, 0] = gain * gain
    variance = solve_discrete_lyapunov(matrix, driven)[0, 0]
    assert noise_gain(gain, decisions) == pytest.approx(math.sqrt(variance), rel=1e-6)


def test_noise_of_an_unstable_loop_has_no_bound() -> None:
    assert noise_gain(1.01 * critical_gain(2), 2) == math.inf


def relay(step: float):
    return lambda read: math.copysign(step, read)


@pytest.mark.parametrize("decisions", [0, 1, 2, 3])
@given(start=st.floats(-80.0, 80.0), step=st.floats(0.5, 20.0))
def test_bang_bang_rests_in_a_band_as_wide_as_theory_asks(decisions: int, start: float, step: float) -> None:
    """The number of moves: ``ceil((|e0| - h) / s) + d``, from the iteration and from the formula."""
    band = stopping_half_band(step, decisions) * (1.0 + 1e-6)
    assert largest_sure_step(band, decisions) == pytest.approx(step, rel=1e-5)
    moves = moves_to_rest(start, band, decisions, relay(step))
    assert moves < math.inf
    if abs((abs(start) - band) / step - round((abs(start) - band) / step)) > 1e-6:
        assert relay_moves(start, band, step, decisions) == moves


@given(start=st.floats(-80.0, 80.0), step=st.floats(4.1, 30.0))
def test_bang_bang_without_delay_rests_from_the_starts_that_theory_says(start: float, step: float) -> None:
    moves = moves_to_rest(start, 2.0, 0, relay(step))
    edge = min(abs((abs(start) + side) / step - round((abs(start) + side) / step)) for side in (-2.0, 2.0))
    if edge > 1e-6:
        assert relay_moves(start, 2.0, step, 0) == moves


def test_bang_bang_in_numbers() -> None:
    """150 cents by steps of 6 into 3 to either side: 25 moves, the last reading confirmed once."""
    assert relay_moves(-150.0, 3.0, 6.0, 0) == 25.0


@pytest.mark.parametrize(("gain", "decisions"), [(0.3, 0), (0.8, 0), (1.6, 0), (0.2, 1), (0.4, 2)])
def test_moves_of_a_proportional_loop(gain: float, decisions: int) -> None:
    moves = moves_to_rest(-100.0, 2.0, decisions, lambda read: gain * read)
    errors = list(islice(linear_errors(-100.0, gain, decisions), int(moves) + 1))
    late = errors[-1 - decisions] if decisions < len(errors) else -100.0
    assert abs(late) <= 2.0
    if decisions == 0:
        assert moves == shrinking_moves(-100.0, 2.0, error_factor(gain))


def _worst_rest(gain: float, rounded) -> float:
    """Largest error at which moves by multiples of 1 cent come to an end."""
    worst = 0.0
    for start in np.arange(-20.0, 20.0, 0.025):
        error = float(start)
        for _ in range(200):
            error -= rounded(gain * error)
        worst = max(worst, abs(error))
    return worst


@pytest.mark.parametrize("gain", [0.25, 0.5, 0.8])
@pytest.mark.parametrize(("rounded", "bound"), [(round, residual), (math.trunc, truncated_residual)])
def test_rounded_moves_leave_a_residual(gain: float, rounded, bound) -> None:
    """``q / (2 K)`` rounded to the nearest, ``q / K`` cut off; the bound is reached to a fortieth of a step."""
    assert bound(1.0, gain) - 0.06 <= _worst_rest(gain, rounded) <= bound(1.0, gain) + 1e-9


@pytest.mark.parametrize(("first", "tolerance", "readings"), [(80.0, 2.0, 7), (80.0, 1.25, 7), (64.0, 1.0, 7)])
def test_halving_at_every_reading(first: float, tolerance: float, readings: int) -> None:
    assert halving_readings(first, tolerance) == readings
    for start in np.linspace(-2.0 * first, 2.0 * first, 999):
        error, step = float(start), first
        for _ in range(readings):
            error, step = error - math.copysign(step, error), step / 2.0
            if abs(error) <= tolerance:
                break
        assert abs(error) <= tolerance + 1e-9


@pytest.mark.parametrize("gap", [0.0, 5.0, 10.0, 20.0, 40.0])
def test_halving_at_every_reading_through_play(gap: float) -> None:
    """First step 80, least 1.25: ``B + s_least`` off at worst."""
    worst = 0.0
    for start in np.arange(-150.0, 150.0, 0.37):
        shaft, position, step = gap / 2.0, 0.0, 80.0
        for _ in range(7):
            error = start + position
            shaft -= math.copysign(step, error)
            position, step = play(position, shaft, gap), step / 2.0
        worst = max(worst, abs(start + position))
    assert halving_error(gap, 1.25) - 0.4 < worst <= halving_error(gap, 1.25) + 1e-9


def test_empty_moves_at_a_reversal() -> None:
    """Play of 10 cents, moves of 2: five readings show nothing."""
    assert empty_moves(10.0, 0.5 * 4.0) == 5
    assert empty_moves(0.0, 3.0) == 0


def test_play_as_a_describing_function() -> None:
    for amplitude, found in {2.0: 0.5 - 0.31831j, 4.0: 0.8045 - 0.23873j, 10.0: 0.94796 - 0.11459j,
                             1.25: 0.14238 - 0.20372j}.items():  # fmt: skip
        assert play_gain(amplitude) == pytest.approx(found, abs=6e-6)
    assert play_gain(1.0) == 0.0


@pytest.mark.parametrize("amplitude", [1.25, 2.0, 4.0])
def test_play_against_its_fourier_integral(amplitude: float) -> None:
    samples = 20000
    angles = 2.0 * np.pi * np.arange(2 * samples) / samples
    position, found = 0.0, []
    for shaft in amplitude * np.sin(angles):
        position = play(position, float(shaft), 2.0)
        found.append(position)
    last = np.array(found[samples:])
    fundamental = 2.0 / samples * complex(last @ np.sin(angles[:samples]), last @ np.cos(angles[:samples]))
    assert fundamental / amplitude == pytest.approx(play_gain(amplitude), abs=2e-4)


def test_an_integral_hunts_over_play_and_the_describing_function_says_about_how() -> None:
    """The sampled loop: 0.3023 of the play, 30.2 readings; harmonic balance: within a factor of 2 and a fifth."""
    error, shaft, position, total, errors = 3.0, 0.0, 0.0, 0.0, []
    for _ in range(6000):
        total += error
        shaft -= 0.5 * error + 0.1 * total
        before, position = position, play(position, shaft, 1.0)
        error += position - before
        errors.append(error)
    late = np.array(errors[3000:])
    rises = np.flatnonzero((late[:-1] < 0.0) & (late[1:] >= 0.0))
    swing, period = np.ptp(late), (rises[-1] - rises[0]) / (len(rises) - 1)
    assert (swing, period) == (pytest.approx(0.3023, abs=2e-4), pytest.approx(30.2, abs=0.1))
    plays, readings = play_hunting(0.5, 0.1)
    assert 1.0 < plays / swing < 2.0
    assert 0.8 < readings / period < 1.0


def cents_of(tension: float) -> float:
    return 600.0 * math.log2(tension)


def test_inverse_with_a_wrong_belief() -> None:
    """Slope 0.8 of what is believed, from 200 cents flat: -36.473, -7.173, -1.430; each the share 0.2, about."""
    tension, found = 2.0 ** (-200.0 / 600.0), []
    for _ in range(3):
        tension += 0.8 * (1.0 - tension)
        found.append(cents_of(tension))
    assert found == pytest.approx([-36.473, -7.173, -1.430], abs=5e-4)
    assert found[2] / found[1] == pytest.approx(error_factor(0.8), rel=5e-3)


@given(ratio=st.floats(0.05, 2.5), start=st.floats(-300.0, 300.0))
def test_moves_of_an_inverse(ratio: float, start: float) -> None:
    error, moves = abs(start), 0
    while error > 2.0 and moves < 2000:
        error, moves = error * abs(1.0 - ratio), moves + 1
    found = shrinking_moves(start, 2.0, error_factor(ratio))
    assert found in (moves, moves + 1, moves - 1) if error <= 2.0 else found > 1999


def test_secant_through_the_curved_map() -> None:
    """From 200 cents flat, first step by the slope at the target: 21.162844, 2.282857, -0.028160."""
    windings = [2.0 ** (-200.0 / 600.0)]
    errors = [-200.0]
    slope = 600.0 / math.log(2.0)
    for _ in range(3):
        windings.append(windings[-1] - errors[-1] / slope)
        errors.append(cents_of(windings[-1]))
        slope = (errors[-1] - errors[-2]) / (windings[-1] - windings[-2])
    assert errors[1:] == pytest.approx([21.162844, 2.282857, -0.028160], abs=5e-7)
    assert secant_error(errors[0], errors[1]) == pytest.approx(errors[2], rel=0.1)
    assert secant_error(errors[1], errors[2]) == pytest.approx(errors[3], rel=0.02)
    assert secant_moves(-200.0, 0.5, 21.162844 / 200.0) == 3.0


@pytest.mark.parametrize(("share", "readings", "found"), [(0.1, 3, 0.028), (0.1, 5, 0.00856), (0.02, 3, 0.00118)])
def test_median_outvotes_outliers(share: float, readings: int, found: float) -> None:
    votes = product([True, False], repeat=readings)
    counted = sum(
        share ** sum(wrong) * (1.0 - share) ** (readings - sum(wrong)) for wrong in votes if sum(wrong) > readings / 2
    )
    assert wrong_median_share(share, readings) == pytest.approx(counted, rel=1e-12)
    assert counted == pytest.approx(found, abs=6e-6)
