"""Sums over lags are the sums of their definitions; crests and vertices are where they are."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pytest import approx

from models.detectors.base import NOT_HEARD
from models.detectors.lags import (
    crests,
    difference,
    heard,
    key_maxima,
    mean_normalised,
    ordered,
    products,
    scaled,
    searched,
    shortest_window,
    square_difference,
    vertex,
)
from models.messages import Estimate

windows = arrays(np.float64, st.integers(2, 40), elements=st.floats(-1.0, 1.0, width=32))


@given(first=windows, second=windows)
def test_products_are_the_sums_of_their_definition(first: np.ndarray, second: np.ndarray) -> None:
    direct = [
        sum(first[j] * second[j + lag] for j in range(min(len(first), len(second) - lag))) for lag in range(len(second))
    ]
    assert products(first, second) == approx(np.array(direct), abs=1e-12)


@given(samples=windows)
def test_square_difference_is_the_ratio_of_its_definition(samples: np.ndarray) -> None:
    """``n = 1 - sum (a - b)^2 / sum (a^2 + b^2)`` of the two parts (McLeod & Wyvill 2005, their second form)."""
    values = square_difference(samples)
    total = float(samples @ samples)
    for lag in range(len(samples)):
        a, b = samples[: len(samples) - lag], samples[lag:]
        both = float(a @ a + b @ b)
        if both > 1e-3 * total:
            assert values[lag] == approx(1.0 - float((a - b) @ (a - b)) / both, abs=1e-9)
    assert np.all(np.abs(values) <= 1.0 + 1e-3)


@given(samples=windows, data=st.data())
def test_difference_is_the_sum_of_its_definition(samples: np.ndarray, data: st.DataObject) -> None:
    width = data.draw(st.integers(1, len(samples)))
    direct = [np.sum((samples[:width] - samples[lag : lag + width]) ** 2) for lag in range(len(samples) - width + 1)]
    assert difference(samples, width) == approx(np.array(direct), abs=1e-10 * len(samples))


@given(differences=arrays(np.float64, 12, elements=st.just(0.0) | st.floats(1e-3, 9.0)))
def test_normalised_differences_are_ratios_to_their_running_mean(differences: np.ndarray) -> None:
    differences[0] = 0.0
    found = mean_normalised(differences)
    assert found[0] == 1.0
    for lag in range(1, 12):
        mean = differences[1 : lag + 1].mean()
        assert found[lag] == approx(differences[lag] / mean if mean else 1.0, rel=1e-9)


def test_a_constant_differs_nowhere_and_silence_repeats_nothing() -> None:
    assert not difference(np.full(60, 0.1), 20).any()
    assert not square_difference(np.zeros(9)).any()


@given(place=st.floats(-0.5, 0.5), height=st.floats(-5.0, 5.0), bend=st.floats(-3.0, -0.1))
def test_the_vertex_of_a_parabola_is_exact(place: float, height: float, bend: float) -> None:
    values = height + bend * (np.arange(7) - (3 + place)) ** 2
    assert vertex(values, 3) == (approx(3 + place, abs=1e-9), approx(height, abs=1e-9))


@pytest.mark.parametrize(("values", "place"), [([0.0, 1.0, 2.0], 1.0), ([1.0, 1.0, 1.0], 1.0), ([0.0, 1.0, 1.99], 2.0)])
def test_a_vertex_never_leaves_its_neighbours(values: list[float], place: float) -> None:
    assert vertex(np.array(values), 1)[0] == place


def test_crests_stand_above_both_neighbours_inside_the_lags() -> None:
    values = np.array([9.0, 1.0, 3.0, 2.0, 2.0, 5.0, 5.0, 1.0, 4.0, 0.0])
    assert crests(values, range(1, 9)).tolist() == [2, 5, 8]
    assert crests(values, range(3, 8)).tolist() == [5]


def test_key_maxima_are_one_for_each_stretch_after_the_first_fall() -> None:
    values = np.array([1.0, 0.8, 0.9, -0.2, 0.3, 0.2, 0.6, 0.1, -0.5, 0.4, 0.7, 0.6, -0.1, 0.2])
    assert key_maxima(values, range(1, 13)).tolist() == [6, 10]
    assert key_maxima(values, range(7, 13)).tolist() == [10]
    assert key_maxima(np.ones(14), range(1, 13)).size == 0


@given(rate=st.floats(500.0, 48000.0), low=st.floats(20.0, 200.0), octaves=st.floats(0.1, 4.0))
def test_the_shortest_window_reaches_the_longest_period_and_no_shorter_one_does(
    rate: float, low: float, octaves: float
) -> None:
    high = low * 2.0**octaves
    size = shortest_window(rate, low)
    assert searched(size, rate, low, high).stop - 1 == math.ceil(rate / low)
    assert searched(size - 2, rate, low, high).stop - 1 < rate / low
    assert searched(10 * size, rate, low, high) == searched(size, rate, low, high)


def test_a_crest_between_two_lags_stays_below_half_the_rate() -> None:
    """A vertex lies at most half a lag from its crest."""
    assert searched(256, 1024.0, 35.0, 9000.0).start - 0.5 > 2.0


def test_rounding_of_faint_ends_is_not_taken_for_repeating() -> None:
    """At long lags both parts are so faint beside the middle that sums of squares are mostly rounding."""
    random = np.random.default_rng(0)
    for _ in range(10):
        samples = 5e-8 * random.standard_normal(1024)
        samples[400:600] = random.standard_normal(200)
        assert np.max(np.abs(square_difference(scaled(samples)))) <= 1.0 + 1e-9


@pytest.mark.parametrize("size", [0, 1, 2, 5, 7])
def test_a_window_without_room_for_two_periods_leaves_nothing_to_search(size: int) -> None:
    assert not searched(size, 4000.0, 35.0, 800.0)


@pytest.mark.parametrize("factor", [1e-300, 1.0, 1e300])
def test_scaling_keeps_the_shape_of_a_window(factor: float) -> None:
    samples = np.array([0.5, -2.0, 1.0])
    assert scaled(samples * factor) == approx(np.array([0.25, -1.0, 0.5]))


@pytest.mark.parametrize("samples", [[], [0.0, 0.0], [1.0, math.inf], [1.0, math.nan]])
def test_what_is_no_sound_is_silence(samples: list[float]) -> None:
    assert scaled(np.array(samples)).tolist() == [0.0] * len(samples)


def test_an_estimate_is_heard_from_its_least_periodicity_on() -> None:
    assert heard(110.0, 0.8, 0.8) == Estimate(110.0, 0.8)
    assert heard(110.0, 1.00001, 0.8) == Estimate(110.0, 1.0)
    assert heard(110.0, 0.79, 0.8) == NOT_HEARD


def test_a_search_range_runs_upwards() -> None:
    ordered(70.0, 80.0)
    with pytest.raises(ValueError, match=r"lowest_hz \(80\) must lie below highest_hz \(80\)"):
        ordered(80.0, 80.0)
