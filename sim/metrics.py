"""Measures of one run: pure functions of corners, between which pitch and tension change one way.

Conventions: errors in cents, positive = sharp; ``nan`` where a measure does not apply (a broken or slack string has no
error); an overshoot without crossing is 0; settling is the last instant outside the band.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

from sim.trace import Course, Outcome, Trace

SETTLING_PLACES = 9  # decimals of seconds: whole nanoseconds


def overshoot_cents(error_cents: Sequence[float]) -> float:
    """Return how far the pitch went beyond the target after first crossing it; 0 without crossing.

    ``max over later corners of -sign(e_0) e``. A start exactly at the target counts any later error.
    """
    known = [error for error in error_cents if not math.isnan(error)]
    if not known:
        return 0.0
    side = math.copysign(1.0, known[0]) if known[0] else 0.0
    if side == 0.0:
        return max(abs(error) for error in known)
    return max(0.0, max(-side * error for error in known))


def settling_s(t_s: Sequence[float], error_cents: Sequence[float], band_cents: float) -> float:
    """Return the instant after which ``|error| <= band`` until the end; nan if the run ends outside."""
    if not error_cents or math.isnan(error_cents[-1]) or abs(error_cents[-1]) > band_cents:
        return math.nan
    for place in range(len(error_cents) - 1, 0, -1):
        before, after = error_cents[place - 1], error_cents[place]
        if abs(before) > band_cents or (before * after < 0 and abs(after - before) > 2 * band_cents):
            share = (math.copysign(band_cents, before) - before) / (after - before)
            return round(t_s[place - 1] + share * (t_s[place] - t_s[place - 1]), SETTLING_PLACES)
    return 0.0


def reversals(moves_deg: Sequence[float]) -> int:
    """Return how often the turning changed its direction; a motor that goes back between grips does not count."""
    return sum(1 for first, second in pairwise(move for move in moves_deg if move) if first * second < 0)


def turned_deg(moves_deg: Sequence[float]) -> float:
    """Return the sum of all turns of the gripped shaft, both ways."""
    return sum(abs(move) for move in moves_deg)


def percent_of_breaking(highest_n: float, breaking_n: float) -> float:
    """Return the highest tension in percent of the breaking tension."""
    return 100.0 * highest_n / breaking_n


def in_tune(outcome: Outcome, errors_cents: Sequence[float], tolerance_cents: float) -> bool:
    """Return the truth: finished, unbroken, and ``|true error| <= tolerance`` for each error: at once and relaxed."""
    return outcome is Outcome.FINISHED and all(abs(error) <= tolerance_cents for error in errors_cents)


def measures(trace: Trace) -> dict[str, float]:
    """Return every measure of a trace by name; flags as booleans."""
    return measured(trace.course())


def measured(course: Course) -> dict[str, float]:
    """Return every measure of a course by name; flags as booleans."""
    error = course.error_cents
    return {
        "finished": course.outcome is Outcome.FINISHED,
        "in_tune": in_tune(course.outcome, (error[-1], course.relaxed_error_cents), course.tolerance_cents),
        "broken": course.outcome is Outcome.STRING_BROKE,
        "final_error_cents": error[-1],
        "relaxed_error_cents": course.relaxed_error_cents,
        "plucks": course.plucks,
        "readings": course.readings,
        "seconds": course.end_s,
        "overshoot_cents": overshoot_cents(error),
        "settling_s": settling_s(course.t_s, error, course.tolerance_cents),
        "reversals": reversals(course.moves_deg),
        "turned_deg": turned_deg(course.moves_deg),
        "energy_j": course.energy_j,
        "charge_c": course.charge_c,
        "percent_of_breaking": percent_of_breaking(course.highest_n, course.breaking_n),
        "regrips": course.regrips,
        "start_cents": error[0],
        "visits": 1,
    }
