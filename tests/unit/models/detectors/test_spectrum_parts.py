"""Parts of spectral detectors: one bin, places of peaks, search ranges, the comb; and the 16-bit transform."""

import numpy as np
import pytest

from models.detectors.fixed_point import transform, windowed
from models.detectors.spectrum import (
    best_tooth,
    comb,
    hann,
    hann_ratio,
    line_range,
    multiples,
    parabola,
    shortest_window,
    spectrum,
    tone,
)


def test_one_bin_equals_the_transform() -> None:
    """GZ-1, identity: the bin at 10 rate / N is line 10 of numpy's transform."""
    samples = np.random.default_rng(1).normal(size=256)
    lines = np.fft.rfft(samples)
    for line in (0, 10, 77, 128):
        assert tone(samples, line * 1024.0 / 256.0, 1024.0) == pytest.approx(lines[line], abs=1e-9)


def test_one_bin_between_lines_equals_the_padded_transform() -> None:
    samples = np.random.default_rng(2).normal(size=256)
    assert tone(samples * hann(256), 10.25, 256.0) == pytest.approx(spectrum(samples, 4)[41], abs=1e-9)


def test_the_window_is_shared_and_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        hann(64)[0] = 1.0


@pytest.mark.parametrize("offset", [-0.5, -0.3, 0.0, 0.2, 0.49])
def test_the_parabola_of_a_bell_is_exact(offset: float) -> None:
    """The logarithm of a Gaussian is a parabola (closed form)."""
    bell = np.exp(-((np.arange(9.0) - 4.0 - offset) ** 2) / 3.0)
    assert parabola(bell, np.array([4]))[0] == pytest.approx(offset, abs=1e-12)


def test_no_peak_is_interpolated_further_than_a_line_or_a_bin() -> None:
    slope = np.exp(0.5 * np.arange(9.0) - 1e-6 * np.arange(9.0) ** 2)
    assert parabola(slope, np.array([4]))[0] == 1.0
    assert parabola(np.zeros(9), np.array([4]))[0] == 0.0
    assert hann_ratio(10.0 ** np.arange(9.0), np.array([4]), 1)[0] == 1.0


@pytest.mark.parametrize("padding", [1, 2, 4])
def test_the_ratio_finds_a_hann_lobe_at_any_padding(padding: int) -> None:
    """sin(pi x) / (pi x (1 - x^2)) is the lobe of a long Hann window (Harris 1978); np.sinc has the pi inside."""
    place = 8.3
    away = np.arange(20 * padding) / padding - place
    lobe = np.abs(np.sinc(away) / (1.0 - away**2))
    line = int(np.argmax(lobe))
    assert line / padding + hann_ratio(lobe, np.array([line]), padding)[0] == pytest.approx(place, abs=1e-12)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(4.0, 6.0, range(16, 25)), (0.0, 2.0, range(4, 9)), (60.0, 90.0, range(240, 253)), (200.0, 300.0, range(0))],
)
def test_a_search_range_keeps_a_bin_off_both_ends(low: float, high: float, expected: range) -> None:
    """257 lines at padding 4 are 64 bins and the one at half the rate."""
    lines = line_range(low, high, 257, 4)
    assert (list(lines) or list(range(0))) == list(expected)


def test_partials_are_multiples_of_the_first() -> None:
    assert multiples(4, 0.0) == pytest.approx([1.0, 2.0, 3.0, 4.0], rel=1e-15)
    assert multiples(3, 1e-3)[[0, 2]] == pytest.approx([1.0, 3.0 * np.sqrt(1.009 / 1.001)], rel=1e-12)


def test_teeth_of_a_comb_lie_on_the_partials_or_past_the_end() -> None:
    candidates, teeth = comb(10.0, 30.0, 65, 1, 3, 0.0)
    assert np.diff(candidates) * 3 == pytest.approx(0.5)
    expected = np.outer([1, 2, 3], candidates)
    assert np.all(np.abs(teeth - expected)[expected < 64.5] <= 0.5)
    assert np.all(teeth[expected > 64.5] == 65)
    assert not len(comb(80.0, 90.0, 65, 1, 3, 0.0)[0])


def test_the_highest_good_candidate_is_taken_at_the_top_of_its_hill() -> None:
    """Hills of 10 and 9: the higher candidate wins while 9 is good enough, and not from its slope."""
    scores = np.array([1.0, 8.0, 10.0, 8.0, 1.0, 0.0, 0.0, 1.0, 8.8, 9.0, 8.7, 8.6, 1.0])
    assert best_tooth(scores, 0.85, 3) == 9
    assert best_tooth(scores, 0.95, 3) == 2


def test_the_shortest_window_has_four_periods() -> None:
    assert shortest_window(1024.0, 40.0) == 103
    assert shortest_window(100.0, 90.0) == 16


def test_half_a_step_rounds_up() -> None:
    """Truncation would lose it, and 2 dB of the transform: butterfly of 1 and 0."""
    assert list(transform(np.array([1, 0]))) == [1, 1]


@pytest.mark.parametrize("size", [16, 64, 256, 1024])
def test_the_fixed_transform_is_the_transform_over_its_length(size: int) -> None:
    """A stage hands on the mean of two errors and adds at most 1.5 steps: products, twiddles and halving."""
    steps = np.random.default_rng(3).integers(-32768, 32768, size)
    assert np.abs(transform(steps) - np.fft.rfft(steps) / size).max() < 1.5 * np.log2(size)


@pytest.mark.parametrize("line", [0, 1, 31, 128])
def test_full_scale_does_not_overflow(line: int) -> None:
    steps = np.rint(32767 * np.cos(2 * np.pi * line * np.arange(256) / 256)).astype(np.int64)
    found = transform(steps)
    assert np.abs(found).max() == pytest.approx(32767 / (1 if line in (0, 128) else 2), rel=1e-3)
    assert int(np.argmax(np.abs(found))) == line


def test_samples_are_shifted_and_held_within_sixteen_bits() -> None:
    steps = windowed(np.full(64, 100.0), 4)
    assert steps[32] == pytest.approx(1600, abs=1)
    assert np.abs(windowed(np.full(64, -9e9), 12)).max() <= 32768
