"""What theory says of the loop: pure formulas, before any simulation.

The plant in cents is an integrator: ``c[k+1] = c[k] + G u[k]``, read ``d`` decisions late. Loop gain ``K = gain * G``.

Here: relays and steps, proportional, spins, delays. ``theory_linear`` has the linear loop with integral, noise and
averages, ``theory_play`` what lost motion does, ``theory_belief`` laws that believe a slope.

Sources: characteristic polynomial ``z^(d+1) - z^d + K`` (Levin & May 1976, Kuruklis 1994; from memory, checked against
its roots in the tests); dead-time limits pi/2 and 1/e of an integrator from any control text.
"""

import math
from collections.abc import Callable


def critical_gain(decisions: int) -> float:
    """Return the loop gain at which proportional control with a delay of ``decisions`` (0 or more) just oscillates.

    ``2 sin(pi / (2 (2 d + 1)))``: 2, 1, 0.618, 0.445 for 0, 1, 2, 3.
    """
    return 2.0 * math.sin(math.pi / (2.0 * (2 * decisions + 1)))


def fastest_gain(decisions: int) -> float:
    """Return the largest loop gain without oscillation: ``d^d / (d+1)^(d+1)``; 1 without delay."""
    return float(decisions**decisions / (decisions + 1) ** (decisions + 1))


def limit_cycle(step_cents: float, decisions: int) -> tuple[float, int]:
    """Return peak to peak in cents and period in readings of bang-bang without deadband: ``(2d+1) s``, ``4d + 2``."""
    return (2 * decisions + 1) * step_cents, 4 * decisions + 2


def largest_sure_step(half_band_cents: float, decisions: int) -> float:
    """Return the largest step from which bang-bang is sure to stop in a band: ``2 h / (d + 1)``."""
    return 2.0 * half_band_cents / (decisions + 1)


def relay_moves(start_cents: float, half_band_cents: float, step_cents: float, decisions: int) -> float:
    """Return the moves of bang-bang to rest in its band, ``ceil((|e0| - h) / s) + d``; infinite where it never rests.

    Errors lie on ``e0 + k s`` for ever. Read ``d`` decisions late, the pitch goes ``d`` steps beyond the first error in
    the band, from either side, and rests if it is still inside.
    """
    moves = max(0, math.ceil((abs(start_cents) - half_band_cents) / step_cents - 1e-9))
    if moves == 0:
        return 0.0
    last = math.floor((abs(start_cents) + half_band_cents) / step_cents + 1e-9)  # the last move that ends in the band
    return float(moves + decisions) if last - moves >= decisions else math.inf


def moves_to_rest(
    start_cents: float, half_band_cents: float, decisions: int, move: Callable[[float], float], most: int = 1000
) -> float:
    """Return the readings before a law rests in its band for good, on the sampled integrator; infinite beyond ``most``.

    ``c[k+1] = c[k] - move(c[k-d])`` outside the band, no move inside. At rest are ``d + 1`` readings in a row inside:
    nothing is under way any more. ``move`` may remember what it was asked before.
    """
    errors, quiet = [start_cents] * (decisions + 1), 0
    for place in range(most):
        inside = abs(errors[0]) <= half_band_cents
        quiet = quiet + 1 if inside else 0
        if quiet > decisions:
            return float(place - decisions)
        errors = [*errors[1:], errors[-1] - (0.0 if inside else move(errors[0]))]
    return math.inf


def halving_readings(first_step_cents: float, tolerance_cents: float) -> int:
    """Return the readings of step halving, at every one, that bring any start within two first steps into a tolerance.

    ``N = ceil(1 + log2(s0 / tolerance))``, from ``|c_k| <= 2 s_k``.
    """
    return max(1, math.ceil(1.0 + math.log2(first_step_cents / tolerance_cents)))


def stopping_half_band(step_cents: float, decisions: int) -> float:
    """Return the half-deadband from which bang-bang is sure to stop: ``(d + 1) s / 2``."""
    return (decisions + 1) * step_cents / 2.0


def residual(step_cents: float, loop_gain: float) -> float:
    """Return the largest error at which proportional control rests when moves are rounded to a step: ``q / (2 K)``."""
    return step_cents / (2.0 * loop_gain)


def truncated_residual(step_cents: float, loop_gain: float) -> float:
    """Return the same when moves are cut off towards zero instead of rounded: ``q / K``."""
    return step_cents / loop_gain


def fastest_sure_spin(half_band_cents: float, latency_s: float, hop_s: float) -> float:
    """Return the speed in cents per second up to which spin-and-stop rests in its band: ``2 h / (tau + hop)``."""
    return 2.0 * half_band_cents / (latency_s + hop_s)


def spin_overshoot(speed_cents_s: float, latency_s: float, hop_s: float, band_cents: float) -> tuple[float, float]:
    """Return least and most overshoot of spin-and-stop: ``v tau - band`` and ``v (tau + hop) - band``."""
    return speed_cents_s * latency_s - band_cents, speed_cents_s * (latency_s + hop_s) - band_cents


def decision_delay(latency_s: float, half_window_s: float, interval_s: float) -> int:
    """Return how many decisions fall between a move and the first reading that shows it.

    A window opened after the move closes no later than it does when ``latency + half window`` fit into as many
    intervals: ``ceil((latency + half window) / interval) - 1``, at least 0.
    """
    return max(0, math.ceil((latency_s + half_window_s) / interval_s - 1e-9) - 1)


def turning_delay(latency_s: float, hop_s: float) -> int:
    """Return how many hops old a reading is, rounded up, while the motor turns: ``ceil(latency / hop)``."""
    return math.ceil(latency_s / hop_s - 1e-9)
