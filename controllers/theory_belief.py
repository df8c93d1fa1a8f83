"""Laws that believe a slope, and readings that may be wrong: contraction, secant, median.

Source: error of the secant method, any text on numerical methods; binomial distribution.
"""

import math
from typing import Final

CURVATURE_PER_CENT: Final = math.log(2.0) / 1200.0  # half of the second derivative of pitch over winding, by slope^2
RIGHT: Final = 1e-12  # share of an error that counts as nothing
MOST_MOVES: Final = 100


def error_factor(true_over_believed: float) -> float:
    """Return the share of an error that one move leaves, ``|1 - G / believed|``; it shrinks for a ratio of 0 to 2."""
    return abs(1.0 - true_over_believed)


def shrinking_moves(start_cents: float, half_band_cents: float, factor: float) -> float:
    """Return the moves to a band when each leaves a factor of the error: ``ceil(ln(h / |e0|) / ln(factor))``."""
    if abs(start_cents) <= half_band_cents:
        return 0.0
    if factor < RIGHT:
        return 1.0
    if factor >= 1.0 or half_band_cents == 0.0:
        return math.inf
    return float(math.ceil(math.log(half_band_cents / abs(start_cents)) / math.log(factor) - 1e-9))


def secant_error(before_cents: float, now_cents: float) -> float:
    """Return the error that follows two by the secant through them: ``-ln 2 / 1200 * e[k-1] e[k]``, for small ones."""
    return -CURVATURE_PER_CENT * before_cents * now_cents


def secant_moves(start_cents: float, half_band_cents: float, first_factor: float) -> float:
    """Return the moves of a secant whose first move leaves a factor of the error, the next ones as it has learnt."""
    moves, before, now = 0, start_cents, start_cents
    while abs(now) > half_band_cents and moves < MOST_MOVES:
        before, now = now, first_factor * now if moves == 0 else secant_error(before, now)
        moves += 1
    return math.inf if moves == MOST_MOVES else float(moves)


def wrong_median_share(wrong_share: float, readings: int) -> float:
    """Return how often the median of so many (odd) readings is wrong when each is with a chance, all alike.

    ``sum over k > n/2 of C(n, k) p^k (1 - p)^(n - k)``.
    """
    return sum(
        math.comb(readings, wrong) * wrong_share**wrong * (1.0 - wrong_share) ** (readings - wrong)
        for wrong in range(readings // 2 + 1, readings + 1)
    )
