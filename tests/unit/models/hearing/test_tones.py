"""Sums of tones against the plain sum, term by term."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.hearing.tones import moving, steady


def plain(amplitudes, turns, decays_s, t_s):
    """Return the sum as it is written down."""
    fading = np.abs(amplitudes)[:, None] * np.exp(-np.outer(decays_s, t_s))
    return (fading * np.cos(2.0 * np.pi * turns + np.angle(amplitudes)[:, None])).sum(axis=0)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32), tones=st.integers(0, 25), count=st.integers(1, 1500), rate=st.floats(500, 48000))
def test_steady_tones_are_the_plain_sum(seed, tones, count, rate) -> None:
    chance = np.random.default_rng(seed)
    amplitudes = chance.normal(size=tones) * np.exp(2j * np.pi * chance.random(tones))
    hz, decays = chance.uniform(1.0, 12000.0, tones), chance.uniform(0.0, 60.0, tones)
    t_s = np.arange(count) / rate
    wanted = plain(amplitudes, np.outer(hz, t_s), decays, t_s)
    assert steady(amplitudes, hz, decays, 1.0 / rate, count) == pytest.approx(wanted, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32), tones=st.integers(0, 25), count=st.integers(1, 3000), first_s=st.floats(0.0, 3.0))
def test_moving_tones_follow_any_phase(seed, tones, count, first_s) -> None:
    """Single precision after the phase was reduced in double: within 1e-6 of the sum of amplitudes."""
    chance = np.random.default_rng(seed)
    amplitudes = chance.normal(size=tones) * np.exp(2j * np.pi * chance.random(tones))
    ratios, decays = chance.uniform(1.0, 30.0, tones), chance.uniform(0.0, 60.0, tones)
    t_s = first_s + np.arange(count) / 4000.0
    cycles = 110.0 * t_s + 0.5 * np.sin(3.0 * t_s)
    wanted = plain(amplitudes, np.outer(ratios, cycles), decays, t_s)
    found = moving(amplitudes, ratios, decays, cycles, 1.0 / 4000.0, first_s)
    assert found == pytest.approx(wanted, abs=2e-6 * np.abs(amplitudes).sum() + 1e-12)
