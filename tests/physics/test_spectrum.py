"""Spectra against published figures: windows, interpolation, bins, rounding noise, and how near to the bound.

Sources: Harris 1978 (Proc. IEEE 66(1), table 1) for windows; Rife & Boorstyn 1974 for the bound of one tone and the
threshold; the rest is independent arithmetic or was measured with another implementation, as said beside each.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest

from models.detectors.base import Samples
from models.detectors.fixed_point import transform
from models.detectors.spectrum import hann, hann_ratio, magnitudes, parabola
from tests.unit.models.detectors.spectral import partials, told

N = 256


def _window(name: str, samples: int = N) -> Samples:
    """Return our Hann window, or scipy's of another name, periodic."""
    from scipy.signal import get_window

    return hann(samples) if name == "hann" else np.asarray(get_window(name, samples, fftbins=True))


def _response_db(window: Samples, bins: Samples) -> Samples:
    """Return the window's transform at places in bins, in dB below its value at 0."""
    time = np.arange(len(window))
    values = np.abs(np.exp(np.outer(bins, time) * (-2j * np.pi / len(window))) @ window)
    return 20.0 * np.log10(np.maximum(values, 1e-15) / window.sum())


def _noise_bandwidth(window: Samples) -> float:
    return float(len(window) * (window**2).sum() / window.sum() ** 2)


def _width(window: Samples, db: float) -> float:
    """Return the full width in bins at so many dB below the top."""
    bins = np.linspace(0.0, 2.0, 2001)
    return 2.0 * float(bins[np.argmax(_response_db(window, bins) < -db)])


def _highest_sidelobe(window: Samples) -> float:
    response = _response_db(window, np.linspace(0.0, 20.0, 2001))
    beyond = int(np.argmax(np.diff(response) > 0.0))
    return float(response[beyond:].max())


@pytest.mark.parametrize(
    ("name", "bandwidth", "scalloping_db", "sidelobe_db", "width_3db", "width_6db"),
    [
        ("boxcar", (1.00, 0.01), (3.92, 0.01), (-13.3, 0.1), (0.89, 0.01), (1.21, 0.01)),
        ("hann", (1.50, 0.01), (1.42, 0.01), (-32.0, 0.6), (1.44, 0.01), (2.00, 0.01)),
        ("hamming", (1.36, 0.01), (1.78, 0.04), (-43.0, 0.4), (1.30, 0.01), (1.81, 0.01)),
        ("blackman", (1.73, 0.01), (1.10, 0.01), (-58.0, 0.2), (1.68, 0.05), (2.35, 0.06)),
    ],
)
def test_figures_of_windows(
    name: str,
    bandwidth: tuple[float, float],
    scalloping_db: tuple[float, float],
    sidelobe_db: tuple[float, float],
    width_3db: tuple[float, float],
    width_6db: tuple[float, float],
) -> None:
    """Harris 1978, table 1; the other windows show that the figures are computed as he does."""
    window = _window(name)
    assert _noise_bandwidth(window) == pytest.approx(bandwidth[0], abs=bandwidth[1])
    assert -_response_db(window, np.array([0.5]))[0] == pytest.approx(scalloping_db[0], abs=scalloping_db[1])
    assert _highest_sidelobe(window) == pytest.approx(sidelobe_db[0], abs=sidelobe_db[1])
    assert _width(window, 3.0) == pytest.approx(width_3db[0], abs=width_3db[1])
    assert _width(window, 6.0) == pytest.approx(width_6db[0], abs=width_6db[1])


@pytest.mark.parametrize(
    ("name", "loss_db", "gain", "overlap"),
    [
        ("boxcar", 3.92, 1.0, 0.500),
        ("hann", 3.18, 0.5, 0.167),
        ("hamming", 3.10, 0.54, 0.235),
        ("blackman", 3.47, 0.42, 0.090),
    ],
)
def test_losses_of_windows(name: str, loss_db: float, gain: float, overlap: float) -> None:
    """Harris 1978, table 1: worst processing loss, coherent gain, correlation at 50 % overlap."""
    window = _window(name)
    loss = 10 * math.log10(_noise_bandwidth(window)) - _response_db(window, np.array([0.5]))[0]
    assert loss == pytest.approx(loss_db, abs=0.02)
    assert window.mean() == pytest.approx(gain, abs=1e-3)
    half = len(window) // 2
    assert window[:half] @ window[half:] / (window @ window) == pytest.approx(overlap, abs=0.002)


def _worst_bias(window: Samples, offset: Callable[[Samples, int], float], padding: int = 1) -> float:
    """Return the largest error in bins over places between two lines, for one complex tone."""
    errors = []
    for place in np.linspace(40.0, 41.0, 201):
        turning = np.exp(2j * np.pi * place * np.arange(N) / N)
        heights = np.abs(np.fft.fft(turning * window, padding * N))
        line = int(np.argmax(heights))
        errors.append(line / padding + offset(heights, line) / padding - place)
    return float(np.abs(errors).max())


def _log(heights: Samples, line: int) -> float:
    return float(parabola(heights, np.array([line]))[0])


def _linear(heights: Samples, line: int) -> float:
    """The same parabola on magnitudes: the logarithm that it takes is undone."""
    return float(parabola(np.exp(heights / heights[line]), np.array([line]))[0])


@pytest.mark.parametrize(
    ("name", "offset", "padding", "bins", "within"),
    [
        ("boxcar", _linear, 1, 0.2339, 0.001),
        ("boxcar", _log, 1, 0.1671, 0.001),
        ("hann", _linear, 1, 0.0528, 0.0005),
        ("hann", _log, 1, 0.0160, 0.0005),
        ("blackman", _log, 1, 0.0066, 0.0005),
        ("hann", _log, 2, 0.00162, 2e-5),
        ("hann", _log, 4, 0.00019, 2e-5),
    ],
)
def test_worst_bias_of_parabolas(
    name: str, offset: Callable[[Samples, int], float], padding: int, bins: float, within: float
) -> None:
    """IP-1 to IP-3, one complex tone, 256 samples; values measured with another implementation."""
    assert _worst_bias(_window(name), offset, padding) == pytest.approx(bins, abs=within)


def test_the_ratio_of_neighbours_is_exact_for_a_hann_window() -> None:
    """IP-4, closed form: what is left is that 256 samples are not infinitely many."""
    assert _worst_bias(hann(N), lambda heights, line: float(hann_ratio(heights, np.array([line]), 1)[0])) < 1e-5


@pytest.mark.parametrize(
    ("rate_hz", "samples", "hz", "expected"),
    [
        (1024, 256, 82.407, 82.06),
        (4000, 1024, 82.407, 80.18),
        (4000, 1024, 41.203, 156.81),
        (8000, 2048, 659.26, 10.23),
    ],
)
def test_a_bin_in_cents(rate_hz: float, samples: int, hz: float, expected: float) -> None:
    """BIN-1 and BIN-2, independent arithmetic: two tones a line apart are read a bin apart."""
    line = round(hz * samples / rate_hz)
    bins = told("bin", lowest_hz=hz / 1.4, highest_hz=hz * 1.4)
    read = [bins.estimate(partials(k * rate_hz / samples, [1.0], samples, rate_hz), rate_hz) for k in (line, line + 1)]
    assert read[0].pitch_hz is not None and read[1].pitch_hz is not None
    step_hz = read[1].pitch_hz - read[0].pitch_hz
    assert 1200 * math.log2(1 + step_hz / hz) == pytest.approx(expected, abs=0.01)


def test_lines_alone_spread_by_a_bin_over_root_twelve() -> None:
    """BIN-3: 84.03 / sqrt(12) = 24.26 cents for a bin of 4 Hz at E2, linearised (independent arithmetic)."""
    bins = told("bin", lowest_hz=65.0, highest_hz=104.0)
    places = np.linspace(78.0, 82.0, 200, endpoint=False)
    read = [bins.estimate(partials(hz, [1.0], N, 1024.0), 1024.0).pitch_hz or 0.0 for hz in places]
    assert np.std(1731.2 * (np.array(read) - places) / 82.407) == pytest.approx(24.26, abs=0.5)


def test_two_tones_show_peaks_within_a_bin() -> None:
    """256 samples at 1024 a second, 110 and 330 Hz: a first thing to try on any processor (common practice)."""
    heights = magnitudes(partials(110.0, [1.0, 0.0, 1.0], N, 1024.0))
    inner = heights[1:-1]
    peaks = 1 + np.flatnonzero((inner > heights[:-2]) & (inner > heights[2:]) & (inner > 0.1 * inner.max()))
    assert len(peaks) == 2
    assert np.abs(peaks * 4.0 - [110.0, 330.0]).max() <= 4.0


@pytest.mark.parametrize(("level_db", "expected_db"), [(0.0, 61.3), (-20.0, 41.3), (-40.0, 21.3)])
def test_rounding_noise_of_the_fixed_transform(level_db: float, expected_db: float) -> None:
    """FX-1, measured with another implementation; each dB of unused headroom costs one (independent arithmetic)."""
    rng = np.random.default_rng(6)
    steps = np.rint(rng.uniform(-32767, 32767, (40, N)) * 10 ** (level_db / 20)).astype(np.int64)
    exact = np.fft.rfft(steps, axis=1) / N
    error = np.stack([transform(row) for row in steps]) - exact
    ratio = (np.abs(exact) ** 2).sum() / (np.abs(error) ** 2).sum()
    assert 10 * math.log10(ratio) == pytest.approx(expected_db, abs=1.5)


def _spread_hz(read: list[float | None]) -> float:
    assert None not in read
    return float(np.std(np.array(read, dtype=float)))


def _noisy_tones(hz: Samples, snr_db: float) -> Samples:
    """Return real tones of amplitude 1 with random phases in white noise, one a row, at 1024 a second."""
    rng = np.random.default_rng(9)
    turns = np.outer(hz, np.arange(N) / 1024.0) + rng.uniform(0.0, 1.0, (len(hz), 1))
    tones: Samples = np.cos(2 * np.pi * turns) + rng.normal(0, math.sqrt(0.5 / 10 ** (snr_db / 10)), turns.shape)
    return tones


def test_least_squares_costs_what_the_hann_window_costs() -> None:
    """CR-6: 1.53 times the bound sqrt(12 / (SNR N (N^2 - 1))) rate / 2 pi of a real tone (Rife & Boorstyn 1974)."""
    bound_hz = 1024.0 / (2 * np.pi) * math.sqrt(12 / (100.0 * N * (N**2 - 1)))
    fit = told("least squares", partials=1, lowest_hz=150.0, highest_hz=260.0)
    spread = _spread_hz([fit.estimate(tone, 1024.0).pitch_hz for tone in _noisy_tones(np.full(2000, 200.0), 20.0)])
    assert spread / bound_hz == pytest.approx(1.53, abs=0.06)


def test_the_phase_of_two_halves_costs_root_two() -> None:
    """Two Hann bins of N/2 samples, N/2 apart: 48 sigma^2 / (A^2 N^3) for the bound's 24 (independent arithmetic)."""
    bound_hz = 1024.0 / (2 * np.pi) * math.sqrt(12 / (100.0 * N * (N**2 - 1)))
    step = told("phase difference", lowest_hz=150.0, highest_hz=260.0)
    spread = _spread_hz([step.estimate(tone, 1024.0).pitch_hz for tone in _noisy_tones(np.full(2000, 202.0), 20.0)])
    assert spread / bound_hz == pytest.approx(math.sqrt(2.0), abs=0.06)


def test_the_comb_is_near_its_bound() -> None:
    """24 sigma^2 / (N (N^2 - 1) sum (A n)^2), the bound of a harmonic sound (independent arithmetic): within 2.4 times.

    2.4 is what another implementation of a comb was measured at; 1.53 of it is the window.
    """
    number, sizes = np.arange(1.0, 5.0), np.array([1.0, 0.7, 0.5, 0.35])
    clean = sizes @ np.sin(2 * np.pi * 110.3 * np.outer(number, np.arange(N) / 1024.0) + number[:, None])
    noise = math.sqrt(sizes @ sizes / 2.0) / 10.0
    bound_hz = 1024.0 / (2 * np.pi) * math.sqrt(24 * noise**2 / (N * (N**2 - 1) * np.sum((sizes * number) ** 2)))
    comb, rng = told("harmonic comb"), np.random.default_rng(10)
    read = [comb.estimate(clean + rng.normal(0, noise, N), 1024.0).pitch_hz for _ in range(500)]
    assert 0.95 < _spread_hz(read) / bound_hz < 2.4


@pytest.mark.parametrize("inharmonicity", [5e-5, 1e-4, 2e-4])
def test_the_harmonic_product_reads_sharp_of_a_stiff_string(inharmonicity: float) -> None:
    """INH-1: sum n^2 (n^2 - 1) / sum n^2 = 10.8 times 865.6 B for four partials (independent arithmetic)."""
    product = told("harmonic product", lowest_hz=90.0, highest_hz=130.0)
    excess = []
    for hz in np.linspace(105.0, 115.0, 41):
        sound = partials(float(hz), [1.0, 1.0, 1.0, 1.0], 1024, 4000.0, inharmonicity)
        excess.append(1200 * math.log2((product.estimate(sound, 4000.0).pitch_hz or math.nan) / hz))
    assert np.mean(excess) / (865.6 * inharmonicity) == pytest.approx(10.8, abs=0.4)


def test_a_peak_in_noise_is_lost_at_the_threshold() -> None:
    """TH-1: wrong lines of a real tone at SNR 0, -9, -15 dB are 0, 5, 65 % (measured with another implementation).

    Shape: threshold effect of Rife & Boorstyn 1974. Rectangular window, as theirs; tones anywhere between two lines.
    """
    hz = np.linspace(200.0, 204.0, 2000)
    wrong = []
    for snr_db in (0.0, -9.0, -15.0):
        lines = np.argmax(np.abs(np.fft.rfft(_noisy_tones(hz, snr_db), axis=1)), axis=1)
        wrong.append(100.0 * float(np.mean(np.abs(4.0 * lines - hz) > 4.0)))
    assert wrong[0] <= 2.0
    assert wrong[1] == pytest.approx(5.0, abs=3.0)
    assert wrong[2] == pytest.approx(65.0, abs=8.0)


def _plucks(count: int, hz: float, snr_db: float, rate_hz: float, samples: int) -> list[tuple[float, Samples]]:
    """Return pitches and plucks of a low string: weak first partial, decay, inharmonicity 1e-4, white noise.

    Partials above 0.45 of the rate are filtered out.
    """
    rng = np.random.default_rng(12)
    number = np.arange(1.0, 7.0)
    time = np.arange(samples) / rate_hz
    plucks = []
    for _ in range(count):
        first = hz * 2.0 ** rng.uniform(-0.08, 0.08)
        body = 1.0 / (1.0 + (100.0 / (number * first)) ** 4)
        sizes = body * np.abs(np.sin(number * np.pi * rng.uniform(0.12, 0.28))) / number * 10 ** rng.normal(0, 0.2, 6)
        places = number * np.sqrt((1 + 1e-4 * number**2) / (1 + 1e-4)) * first
        sizes = sizes * (places < 0.45 * rate_hz)
        phases = 2 * np.pi * np.outer(places, time) + rng.uniform(0, 6.283, 6)[:, None]
        sound = (sizes[:, None] * np.exp(-np.outer(0.7 + 0.02 * number**2, time)) * np.cos(phases)).sum(axis=0)
        noise = rng.normal(0, math.sqrt(np.mean(sound**2) / 10 ** (snr_db / 10)), samples)
        plucks.append((float(first), sound + noise))
    return plucks


@pytest.mark.parametrize(
    ("rate_hz", "samples", "snr_db", "most"), [(1024, 256, 40, 0.2), (1024, 256, 20, 0.4), (4000, 1024, 20, 0.17)]
)
def test_the_comb_on_low_strings_in_an_open_range(rate_hz: float, samples: int, snr_db: float, most: float) -> None:
    """Spread 0.17 and 0.38 cent at 40 and 20 dB, 0.14 at 4000 a second; of 180 readings at most one is grossly off.

    Measured with another implementation; plucks are invented. What may go wrong is one with hardly any odd partials.
    """
    comb = told("harmonic comb", lowest_hz=35.0, highest_hz=800.0, inharmonicity=1e-4)
    plucks = [pluck for hz in (55.0, 82.407, 110.0) for pluck in _plucks(60, hz, snr_db, rate_hz, samples)]
    ratios = np.array([(comb.estimate(sound, rate_hz).pitch_hz or 1e-9) / hz for hz, sound in plucks])
    errors = 1200 * np.log2(ratios)
    near = np.abs(errors) < 50.0
    assert np.sum(~near) <= 1
    assert np.std(errors[near]) < most


def test_noise_fills_no_teeth_of_the_comb() -> None:
    """SNR 0 dB, one partial, open range: at a half or a third of the pitch the noise at six teeth adds up to an octave.

    The median line taken off each tooth keeps that out (measured: many of the readings without).
    """
    comb = told("harmonic comb", lowest_hz=35.0, highest_hz=800.0, least_periodicity=0.0)
    rng = np.random.default_rng(13)
    wrong = 0
    for hz in np.linspace(390.0, 660.0, 100):
        sound = partials(float(hz), [1.0], 1024, 4000.0) + rng.normal(0.0, 1000.0 / math.sqrt(2.0), 1024)
        wrong += abs((comb.estimate(sound, 4000.0).pitch_hz or 0.0) / hz - 1.0) > 0.03
    assert wrong <= 5


def test_a_foreign_tone_beside_a_partial_counts_little() -> None:
    """A folded partial two thirds of a bin above partial 5, where a plain mean of (n A)^2 reads 2.5 cents sharp.

    0.67 bin * 4 Hz / 5 are 11 cents of 82.4 Hz, and its weight is a quarter of all (independent arithmetic).
    """
    clean = partials(82.4, [1.0, 1.0, 1.0, 1.0, 0.0], N, 1024.0)
    foreign = 200.0 * np.sin(2 * np.pi * (5 * 82.4 + 0.67 * 4.0) * np.arange(N) / 1024.0)
    pitch_hz = told("harmonic comb").estimate(clean + foreign, 1024.0).pitch_hz
    assert pitch_hz is not None
    assert abs(1200 * math.log2(pitch_hz / 82.4)) < 0.8


@pytest.mark.parametrize("hz", [300.0, 300.9, 301.93])
def test_least_squares_climbs_to_the_top(hz: float) -> None:
    """Within 1e-4 bin of a clean tone of 77 periods, wherever it lies between candidates; the rest is leakage."""
    fit = told("least squares", partials=1)
    assert fit.estimate(partials(hz, [1.0], 1024, 4000.0), 4000.0).pitch_hz == pytest.approx(hz, abs=4e-4)


def test_the_highest_line_of_an_open_range_is_an_octave_up() -> None:
    """Known failure, kept visible: 80 % octaves on low strings whose second partial is the stronger one.

    A gate around the target takes all of them away. Measured with another implementation; plucks are invented.
    """
    plucks = _plucks(100, 60.0, 30.0, 4000.0, 1024)
    open_range = told("peak", lowest_hz=35.0, highest_hz=800.0, least_periodicity=0.0)
    gate = told("peak", lowest_hz=47.0, highest_hz=76.0)
    octaves = [abs((open_range.estimate(sound, 4000.0).pitch_hz or 0.0) / hz - 2.0) < 0.06 for hz, sound in plucks]
    gated = [abs((gate.estimate(sound, 4000.0).pitch_hz or 0.0) / hz - 1.0) < 0.03 for hz, sound in plucks]
    assert np.mean(octaves) > 0.5
    assert all(gated)
