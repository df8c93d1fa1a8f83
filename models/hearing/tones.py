"""Sums of decaying tones at a row of instants: quickly for steady ones, exactly for ones whose pitch moves.

A steady tone is a geometric series, so that a window of N samples splits into about sqrt(N) blocks: one matrix product
of their starts with one block. A moving tone takes one cosine a sample, in single precision after the phase was reduced
to one turn in double: errors stay below 1e-6 of its amplitude.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

BLOCK: Final = 32  # samples of a block
CACHED: Final = 8192  # doubles worked on at a time: as many as stay in a processor's cache
TURN: Final = 2.0 * math.pi


def steady(
    amplitudes: Complexes, hz: Floats, decays_s: Floats, interval_s: float, count: int, jitter_s: Floats | None = None
) -> Floats:
    """Return ``Re sum a exp((2 pi i f - s) t)`` at ``count`` instants from 0, ``interval_s`` apart.

    ``amplitudes`` (complex, with the phase at 0), ``hz`` and ``decays_s`` (rates in 1/s) have one shape (tones,).
    ``jitter_s`` moves the instants, shape (count,); to first order, so it must be short beside a period.
    """
    rates, blocks = TURN * 1j * hz - decays_s, -(-count // BLOCK)
    starts = _geometric(amplitudes, np.exp(rates * (interval_s * BLOCK)), blocks)
    within = _geometric(1.0, np.exp(rates * interval_s), BLOCK).conj()
    rows = starts if jitter_s is None else np.concatenate([starts, starts * rates])
    product = rows.view(np.float64) @ within.view(np.float64).T  # real parts of complex products
    tones: Floats = product[:blocks].ravel()[:count]
    if jitter_s is not None:
        tones += jitter_s * product[blocks:].ravel()[:count]
    return tones


def _geometric(first: Complexes | float, ratios: Complexes, count: int) -> Complexes:
    """Return ``first * ratio^k`` for k from 0, shape (count, tones)."""
    steps = np.empty((count, len(ratios)), dtype=np.complex128)
    steps[0], steps[1:] = first, ratios
    found: Complexes = np.multiply.accumulate(steps, axis=0)
    return found


def moving(
    amplitudes: Complexes, ratios: Floats, decays_s: Floats, cycles: Floats, interval_s: float, first_s: float = 0.0
) -> Floats:
    """Return ``sum |a| exp(-s t) cos(2 pi r w(t) + arg a)`` where ``w`` counts the cycles of a tone of ratio 1.

    ``amplitudes`` are complex at ``t = 0``; ``cycles`` has shape (samples,), its instants are ``interval_s`` apart from
    ``first_s`` on; ``ratios`` and ``decays_s`` have the shape of ``amplitudes`` (tones,).
    """
    if not len(ratios):
        return np.zeros(len(cycles))
    waves = np.empty((len(ratios), len(cycles)), dtype=np.float32)
    begins = np.angle(amplitudes) / TURN
    together = max(1, CACHED // len(cycles))
    for first in range(0, len(ratios), together):
        some = slice(first, first + together)
        turns = ratios[some, None] * cycles
        turns += begins[some, None]
        turns -= np.rint(turns)
        waves[some] = turns
    waves *= np.float32(TURN)
    np.cos(waves, out=waves)
    waves *= _fading(np.abs(amplitudes), decays_s, first_s, interval_s, len(cycles))
    found: Floats = waves.sum(axis=0).astype(np.float64)
    return found


def _fading(peaks: Floats, decays_s: Floats, first_s: float, interval_s: float, count: int) -> NDArray[np.float32]:
    """Return ``peak exp(-s t)``, shape (tones, count): blocks times samples, so that few exponentials are taken."""
    blocks = -(-count // BLOCK)
    starts = peaks[:, None] * np.exp(-np.outer(decays_s, first_s + interval_s * BLOCK * np.arange(blocks)))
    within = np.exp(-np.outer(decays_s, interval_s * np.arange(BLOCK)))
    whole = starts.astype(np.float32)[:, :, None] * within.astype(np.float32)[:, None, :]
    return whole.reshape(len(peaks), -1)[:, :count]
