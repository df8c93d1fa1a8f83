"""The linear loop: sampled integrator with delay under proportional and integral action, noise, averages.

Sources: Jury's criterion, the sum of squares of an impulse response, and the Nyquist condition, any text on sampled
control; numbers in the tests are independent arithmetic unless a source is named there.
"""

import cmath
import math
from collections.abc import Callable, Iterator
from typing import Final

NEGLIGIBLE: Final = 1e-13  # share of a sum of squares at which its tail is left out


def open_loop(gain: float, integral: float = 0.0) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return numerator and denominator in ``z`` from reading to pitch, delay left out.

    ``K / (z - 1)``; with an integral ``((K + Ki) z - K) / (z - 1)^2``.
    """
    if integral == 0.0:
        return (gain,), (1.0, -1.0)
    return (gain + integral, -gain), (1.0, -2.0, 1.0)


def linear_errors(start_cents: float, gain: float, decisions: int, integral: float = 0.0) -> Iterator[float]:
    """Yield the error before each decision: ``c[k+1] = c[k] - K c[k-d] - Ki (c[0] + ... + c[k-d])``."""
    return _errors([start_cents] * (decisions + 1), gain, integral)


def _errors(errors: list[float], gain: float, integral: float = 0.0) -> Iterator[float]:
    """Yield the errors that follow those of the last ``d + 1`` decisions."""
    total = 0.0
    while True:
        yield errors[-1]
        total += errors[0]
        errors = [*errors[1:], errors[-1] - gain * errors[0] - integral * total]


def noise_gain(gain: float, decisions: int) -> float:
    """Return standard deviation of the pitch over that of a reading, without deadband; infinite where unstable.

    Without delay ``sqrt(K / (2 - K))``; else the root of the sum of squares of the impulse response.
    """
    if not 0.0 < gain < 2.0 * math.sin(math.pi / (2.0 * (2 * decisions + 1))):
        return math.inf
    total, recent, span = 0.0, 0.0, 20 * (decisions + 1)
    for place, response in enumerate(_errors([*[0.0] * decisions, gain], gain)):
        recent = response * response if place % span == 0 else recent + response * response
        total += response * response
        if place % span == span - 1 and recent < NEGLIGIBLE * total:
            break
    return math.sqrt(total)


def most_integral(gain: float) -> float:
    """Return the integral loop gain below which the loop without delay is stable: ``4 - 2 K`` for ``0 < K < 2``."""
    return max(0.0, 4.0 - 2.0 * gain)


def critical_gain_with_integral(share: float, decisions: int) -> float:
    """Return the critical ``K`` where ``Ki`` is a share of it: ``4 / (2 + share)`` without delay.

    The gain at which the open loop meets -1, by Nyquist: at most at the turn ``pi / (2 d + 1)`` of the loop
    without integral. 0 where no gain is stable.
    """

    def beyond(turn: float) -> float:
        return cmath.phase(-response(1.0, share, decisions, turn))

    if beyond(1e-6) <= 0.0:
        return 0.0
    return 1.0 / abs(response(1.0, share, decisions, root(beyond, 1e-6, math.pi / (2 * decisions + 1))))


def response(gain: float, integral: float, decisions: int, turn: float) -> complex:
    """Return the open loop at ``z = e^(j turn)``, a turn in radians a decision."""
    z = cmath.exp(1j * turn)
    above, below = (_polynomial(each, z) for each in open_loop(gain, integral))
    return above / below / z**decisions


def _polynomial(coefficients: tuple[float, ...], z: complex) -> complex:
    value = 0j
    for coefficient in coefficients:
        value = value * z + coefficient
    return value


def root(falling: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function that goes from above 0 to below crosses it, by halving."""
    for _ in range(80):
        middle = (low + high) / 2.0
        low, high = (middle, high) if falling(middle) > 0.0 else (low, middle)
    return (low + high) / 2.0


def averaged_critical_gain(readings: int) -> float:
    """Return the critical loop gain when each move is by the mean of the last readings, across moves.

    ``2 M sin^2(pi / (2 M))``: 2, 2, 1.5, 1.17, 0.95 for 1 to 5.
    """
    return 2.0 * readings * math.sin(math.pi / (2.0 * readings)) ** 2


def smoothed_critical_gain(weight: float) -> float:
    """Return the critical loop gain under exponential smoothing with the newest reading's weight: ``2 (2 - a) / a``."""
    return 2.0 * (2.0 - weight) / weight
