"""What theory says of the loop: pure formulas, before any simulation.

The plant in cents is an integrator: ``c[k+1] = c[k] + G u[k]``, read ``d`` decisions late. Loop gain ``K = gain * G``.

Sources: characteristic polynomial ``z^(d+1) - z^d + K`` (Levin & May 1976, Kuruklis 1994; from memory, checked against
its roots in the tests); dead-time limits pi/2 and 1/e of an integrator from any control text.
"""

import math


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


def stopping_half_band(step_cents: float, decisions: int) -> float:
    """Return the half-deadband from which bang-bang is sure to stop: ``(d + 1) s / 2``."""
    return (decisions + 1) * step_cents / 2.0


def residual(step_cents: float, loop_gain: float) -> float:
    """Return the largest error at which proportional control rests when moves are rounded to a step: ``q / (2 K)``."""
    return step_cents / (2.0 * loop_gain)


def spin_overshoot(speed_cents_s: float, latency_s: float, hop_s: float, band_cents: float) -> tuple[float, float]:
    """Return least and most overshoot of spin-and-stop: ``v tau - band`` and ``v (tau + hop) - band``."""
    return speed_cents_s * latency_s - band_cents, speed_cents_s * (latency_s + hop_s) - band_cents


def decision_delay(latency_s: float, half_window_s: float, interval_s: float) -> int:
    """Return how many decisions fall between a move and the first reading that shows it.

    A window opened after the move closes no later than it does when ``latency + half window`` fit into as many
    intervals: ``ceil((latency + half window) / interval) - 1``, at least 0.
    """
    return max(0, math.ceil((latency_s + half_window_s) / interval_s - 1e-9) - 1)
