"""What only pictures need: one long pluck, spread over noise levels, one window's spectrum with folded partials."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import Detector
from models.detectors.spectrum import magnitudes
from models.hearing.acceptance import Accepting
from models.hearing.base import Heard
from models.units import CENTS_PER_OCTAVE
from scenarios.schema import Scenario
from sim.ears import told_by_rig
from sim.hearing.cells import GROSS_CENTS
from sim.hearing.measured import Effort, plucked
from sim.hearing.resting import PLUCK, Resting
from sim.hearing.study import Details, LongPluck, NoiseRow, SpectrumView

Floats = NDArray[np.float64]

ONE: Final = Effort(specimens=1, plucks=1)
NOISY: Final = Effort(specimens=10, plucks=2, windows=2)
SNRS_DB: Final = (40.0, 30.0, 20.0, 10.0, 0.0)
LONG_WINDOWS: Final = 160
LONGEST_S: Final = 8.0
FADED_DB: Final = 0.0  # string over noise at which a long pluck has died away
TRUE_POINTS: Final = 1000
SILENT_V: Final = 1e-200  # a string that is over long ago
FAINTEST_DB: Final = -60.0  # partials below are not named in a spectrum


def details(scenario: Scenario, strings: Sequence[str], seed: int) -> Details:
    """Return what pictures of a study need; the lowest of ``strings`` is plucked long."""
    firsts = {string: plucked(scenario, string, seed, ONE)[0] for string in strings}
    lowest = min(strings, key=lambda string: firsts[string].rig.chain.string.target_hz)
    folding = max(strings, key=lambda string: _strongest_fold_db(firsts[string]))
    return Details(
        long_pluck=_long(firsts[lowest], _own(scenario, lowest)),
        noise=tuple(_noise(scenario, string, seed) for string in strings),
        spectrum=_spectrum(firsts[folding]),
    )


def _own(scenario: Scenario, string: str) -> Detector:
    detector: Detector = scenario.hearing["detector"].nominal()
    return told_by_rig(detector, scenario, string)


def _read(detector: Detector, pluck: Resting, number: int, opens_s: float) -> tuple[float, bool]:
    """Return the error of a window, nan when it is not heard, and whether it passes the acceptance by itself."""
    recorded = pluck.take_from(number, opens_s).recorded
    estimate = detector.estimate(recorded.samples, pluck.ear.converter.rate_hz)
    accepting = Accepting(pluck.rig.acceptance, pluck.rig.chain.string.target_hz)
    accepted = accepting.take(Heard(estimate, False, recorded.peak_share, recorded.clipped_share), PLUCK)
    return pluck.error_cents(estimate.pitch_hz), accepted is not None


def _long(pluck: Resting, detector: Detector) -> LongPluck:
    opens_s = np.linspace(0.0, _rings_s(pluck), LONG_WINDOWS)
    read = [_read(detector, pluck, number, float(at)) for number, at in enumerate(opens_s)]
    seconds = opens_s + pluck.ear.window_s / 2.0
    true_s = np.linspace(0.0, float(seconds[-1]), TRUE_POINTS)
    return LongPluck(
        string=pluck.rig.string,
        seconds=seconds,
        error_cents=np.array([error for error, _ in read]),
        accepted=np.array([accepted for _, accepted in read]),
        snr_db=pluck.tones().snr_db(seconds),
        true_seconds=true_s,
        glide_cents=np.array([pluck.glide_cents(float(at)) for at in true_s]) + pluck.error_cents(pluck.first_hz),
        true_cents=_momentary_cents(pluck, true_s),
    )


def _rings_s(pluck: Resting) -> float:
    """Return how long the pluck stands out of the noise."""
    seconds = np.linspace(0.0, LONGEST_S, TRUE_POINTS)
    above = seconds[pluck.tones().snr_db(seconds) > FADED_DB]
    return float(above[-1]) if above.size else LONGEST_S


def _momentary_cents(pluck: Resting, seconds: Floats) -> Floats:
    """Return the momentary pitch of the first partial, whose two polarisations beat: the slope of the sum's phase.

    For ``z = z1 + z2`` of frequencies f1 and f2 it is ``Re((f1 z1 + f2 z2) / z)``.
    """
    sound = pluck.ear.scene.voice.sound
    partials = pluck.ear.scene.voice.partials(pluck.first_hz, pluck.level_db, pluck.chance.sound(PLUCK))
    ratios = partials.ratios[[0, sound.partials], None]
    peaks = partials.amplitudes[[0, sound.partials], None]
    cycles = pluck.first_hz * (seconds + sound.glide_cycles(seconds))
    both = peaks * np.exp(2j * np.pi * ratios * cycles)
    hz = pluck.first_hz * sound.glide(seconds) * ((ratios * both).sum(axis=0) / both.sum(axis=0)).real
    found: Floats = CENTS_PER_OCTAVE * np.log2(np.maximum(hz, 1e-9) / pluck.truth_hz)
    return found


def _noise(scenario: Scenario, string: str, seed: int) -> NoiseRow:
    detector, plucks = _own(scenario, string), plucked(scenario, string, seed, NOISY)
    clean = _errors(plucks, detector, [0.0] * len(plucks))
    rows = [_noise_level(plucks, detector, clean, snr_db) for snr_db in SNRS_DB]
    scale, std, bound, gross = (np.array(column) for column in zip(*rows, strict=True))
    fine = clean[np.abs(clean) <= GROSS_CENTS]
    return NoiseRow(string, scale, np.array(SNRS_DB), std, bound, gross, float(np.std(fine)) if fine.size else np.nan)


def _noise_level(
    plucks: Sequence[Resting], detector: Detector, clean: Floats, snr_db: float
) -> tuple[float, float, float, float]:
    """Return noise scale, spread by noise, bound and gross share with the noise that leaves ``snr_db`` mid-way."""
    scales = [_scale(pluck, snr_db) for pluck in plucks]
    noisy = _errors(plucks, detector, scales)
    expected = [
        pluck.with_noise(scale).tones().expected(pluck.centre_s(number))
        for pluck, scale in zip(plucks, scales, strict=True)
        for number in range(NOISY.windows)
    ]
    bounds = np.array([each.bound_cents for each in expected])
    both = (np.abs(noisy) <= GROSS_CENTS) & (np.abs(clean) <= GROSS_CENTS)
    std = float(np.std((noisy - clean)[both])) if np.count_nonzero(both) > 1 else float("nan")
    gross = 1.0 - float(np.mean(np.abs(noisy) <= GROSS_CENTS))
    return float(np.median(scales)), std, float(np.sqrt(np.mean(bounds**2))), gross


def _scale(pluck: Resting, snr_db: float) -> float:
    """Return the noise scale that brings the first window to a signal-to-noise ratio."""
    now_db = float(pluck.tones().snr_db(np.array([pluck.centre_s(0)]))[0])
    return float(10.0 ** ((now_db - snr_db) / 20.0))


def _errors(plucks: Sequence[Resting], detector: Detector, scales: Sequence[float]) -> Floats:
    """Return raw errors at noise scales, shape (plucks * windows,)."""
    noisy = [pluck.with_noise(scale) for pluck, scale in zip(plucks, scales, strict=True)]
    return np.array(
        [
            _read(detector, pluck, number, pluck.ear.skip_s + number * pluck.ear.hop_s)[0]
            for pluck in noisy
            for number in range(NOISY.windows)
        ]
    )


def _partials_db(pluck: Resting) -> tuple[Floats, Floats, Floats]:
    """Return number, frequency and level re the strongest of each partial in the first window."""
    tones = pluck.tones()
    first = slice(0, len(tones.numbers) // 2)  # of two polarisations the first is the stronger
    now = tones.peaks_v[first] * np.exp(-tones.decays_s[first] * pluck.centre_s(0))
    levels: Floats = 20.0 * np.log10(np.maximum(now / max(now.max(), SILENT_V), 1e-12))
    return tones.numbers[first], tones.ratios[first] * pluck.first_hz, levels


def _strongest_fold_db(pluck: Resting) -> float:
    _, hz, levels = _partials_db(pluck)
    return float(np.max(levels[hz > pluck.ear.converter.true_hz() / 2.0], initial=-np.inf))


def _spectrum(pluck: Resting) -> SpectrumView:
    rate_hz, samples = pluck.ear.converter.rate_hz, pluck.take(0).recorded.samples
    heights = magnitudes(samples, 4)
    numbers, hz, levels = _partials_db(pluck)
    named = levels > FAINTEST_DB
    true_hz = pluck.ear.converter.true_hz()  # partials fold at the true rate, and are seen on the believed scale
    seen_hz = np.abs(hz - true_hz * np.rint(hz / true_hz)) * rate_hz / true_hz
    return SpectrumView(
        string=pluck.rig.string,
        rate_hz=rate_hz,
        hz=np.arange(len(heights)) * rate_hz / (4 * len(samples)),
        level_db=20.0 * np.log10(np.maximum(heights / max(heights.max(), 1e-12), 1e-12)),
        search_hz=pluck.rig.acceptance.search_hz(pluck.rig.chain.string.target_hz),
        partials=numbers[named].astype(int),
        true_hz=hz[named],
        seen_hz=seen_hz[named],
        partial_db=levels[named],
    )
