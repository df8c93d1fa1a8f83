"""Closed forms through the whole signal ear: glide, beats, hum, clock, folding, stiffness, noise floor, bound.

Each test turns on one thing in an ear that is otherwise silent and exact. Sources stand beside the tests.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from models.detectors.bound import harmonic_hz
from models.detectors.least_squares import LeastSquares
from models.detectors.square_difference import SquareDifference
from models.hearing.circuit import HIGHEST_HZ, circuit
from models.hearing.microphone import Microphone
from models.hearing.signal import SignalEar
from models.units import cents, note_hz
from scenarios.load import load_rig
from sim.build import Rig
from tests.unit.models.detectors.spectral import PEAK
from tests.unit.models.hearing.quiet import chance, ear_of, quiet_rig, resting, window

Floats = NDArray[np.float64]

SECOND = 1_000_000_000
FINE = ("converter.rate_hz=24000", "sound.partials=1", "front_end.part=no-filter", "strings.E4.t60_s=50")
"""One partial, sampled so finely that its crossings of zero are known to a hundred thousandth of a period."""


def recorded(rig: Rig, open_ns: int = SECOND // 2, number: int = 0) -> Floats:
    """Return one window of the rig's ear as the detector gets it."""
    return ear_of(rig).record(resting(rig), window(rig, open_ns, number), chance(rig)).samples


def crossings_s(volts: Floats, rate_hz: float) -> Floats:
    """Return the instants at which a wave rises through zero, by straight lines between samples."""
    rising = np.flatnonzero((volts[:-1] < 0.0) & (volts[1:] >= 0.0))
    return (rising + volts[rising] / (volts[rising] - volts[rising + 1])) / rate_hz


def crossings_of(rig: Rig, open_ns: int) -> Floats:
    """Return the instants, after the pluck, of the rising zeros at the converter, without noise."""
    ear = replace(ear_of(rig), noise_scale=0.0)
    volts = ear.volts(resting(rig), window(rig, open_ns), chance(rig))
    return open_ns / SECOND + crossings_s(volts, ear.converter.rate_hz)


def loudest_hz(samples: Floats, rate_hz: float, near_hz: float) -> float:
    """Return the tallest line within a semitone of a place, by the ratio of its neighbours (exact for one tone)."""
    detector = replace(PEAK, lowest_hz=near_hz / 1.06, highest_hz=near_hz * 1.06, least_periodicity=0.0)
    found = detector.estimate(samples, rate_hz).pitch_hz
    assert found is not None
    return found


# -- a pitch that moves by itself ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("samples", "excess"), [(6144, 1.0306), (24576, 1.5613)])
def test_a_window_averages_a_glide(samples: int, excess: float) -> None:
    """Mean of ``exp(-t/tau)`` over T, re its value at the centre: ``sinh(x)/x``, ``x = T/2tau`` (independent
    arithmetic): 1.0306 for 0.256 s, 1.5613 for 1.024 s at tau 0.3 s. Cycles are counted at the converter."""
    rig = quiet_rig(
        *FINE, "sound.glide_cents=30", "sound.glide_s=0.3", f"listening.window_samples={samples}", string="E4"
    )
    depth = 2.0 ** (30.0 / 1200.0) - 1.0
    zeros = crossings_of(rig, SECOND // 10)
    mean_hz, centre_s, span_s = (len(zeros) - 1) / np.ptp(zeros), (zeros[0] + zeros[-1]) / 2.0, np.ptp(zeros)
    at_centre = depth * math.exp(-centre_s / 0.3)
    assert (mean_hz / note_hz("E4") - 1.0) / at_centre == pytest.approx(excess, rel=5e-3)
    x = span_s / 0.6
    assert (mean_hz / note_hz("E4") - 1.0) / at_centre == pytest.approx(math.sinh(x) / x, rel=1e-3)


def test_two_polarisations_swing_the_pitch() -> None:
    """Of two tones 1 and p, d apart, the sum turns at ``+d p/(1+p)`` when they agree and ``-d p/(1-p)`` when they
    cancel (independent arithmetic): +0.4118 d and -2.3333 d for p = 0.7. Read period by period."""
    beats = ("sound.second_share=0.7", "sound.second_cents=12", "listening.window_samples=24000")
    rig = quiet_rig(*FINE, *beats, string="E4")
    pitches = 1.0 / np.diff(crossings_of(rig, 0))
    detuned_hz = note_hz("E4") * (2.0 ** (12.0 / 1200.0) - 1.0)
    swing = (pitches - note_hz("E4")) / detuned_hz
    assert swing.max() == pytest.approx(0.7 / 1.7, abs=0.01)
    assert swing.min() == pytest.approx(-0.7 / 0.3, abs=0.02)


# -- what else is heard, and when ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mains_hz", "number", "note", "away"),
    [(50, 1, "G1", 35.00), (50, 2, "G2", 35.00), (50, 3, "D3", 36.95), (60, 1, "B1", -49.36), (60, 2, "B2", -49.36)],
)
def test_hum_lies_beside_some_strings(mains_hz: int, number: int, note: str, away: float) -> None:
    """Multiples of the mains against equal temperament (independent arithmetic)."""
    hz, _ = load_rig("default", changes=[f"room.mains_hz={mains_hz}"], ear="signal").hearing["room"].nominal().hum()
    assert cents(hz[number - 1], note_hz(note)) == pytest.approx(away, abs=0.02)


def test_a_string_drowned_in_hum_reads_as_hum() -> None:
    """100 Hz lies 165.0 cents below A2, well inside the gate (independent arithmetic)."""
    peak = ("detector.part=spectrum-peak", "detector.least_periodicity=0")
    rig = quiet_rig("room.hum_db_spl=70", "sound.level_db_spl=10", *peak, string="A2")
    found = ear_of(rig).listen(resting(rig), window(rig, SECOND // 2), chance(rig)).estimate
    assert cents(found.pitch_hz, note_hz("A2")) == pytest.approx(-165.0, abs=0.1)


@pytest.mark.parametrize("ppm", [5000.0, -5000.0, 30.0])
def test_a_wrong_clock_reads_flat_by_its_error(ppm: float) -> None:
    """``-1200 log2(1 + e)``: 8.63 cents for a ceramic resonator of 0.5 %, 0.052 for a crystal of 30 ppm."""
    read = [
        ear_of(rig).listen(resting(rig), window(rig, SECOND // 2), chance(rig)).estimate.pitch_hz
        for rig in (quiet_rig(f"converter.clock_ppm={ppm}"), quiet_rig())
    ]
    assert cents(*read) == pytest.approx(-1200.0 * math.log2(1.0 + ppm * 1e-6), abs=0.02)


# -- what folds ----------------------------------------------------------------------------------------------------

SLOW = ("converter.rate_hz=1024", "listening.window_samples=4096", "sound.level_db_spl=0")


@pytest.mark.parametrize(
    ("hz", "alias_hz"), [(660.0, 364.0), (1100.0, 76.0), (659.255, 364.745), (12 * 82.407, 35.116)]
)
def test_a_tone_above_half_the_rate_appears_folded(hz: float, alias_hz: float) -> None:
    """Sampling theorem, at 1024 samples a second without a filter: as loud as the tone itself would be."""
    rig = quiet_rig(*SLOW, "front_end.part=no-filter", f"room.mains_hz={hz}", "room.hum_db_spl=60")
    samples = recorded(rig)
    assert loudest_hz(samples, 1024.0, alias_hz) == pytest.approx(alias_hz, abs=0.01)
    gain = abs(ear_of(rig).circuit.gain(np.array([hz]))[0]) * ear_of(rig).converter.step_v() ** -1
    window_sum = np.exp(-2j * np.pi * alias_hz / 1024.0 * np.arange(4096)) * np.hanning(4096)
    height = 2.0 * abs(window_sum @ samples) / np.hanning(4096).sum()
    assert height == pytest.approx(math.sqrt(2.0) * 20e-6 * 10**3 * gain, rel=0.01)


def test_a_filter_keeps_out_what_would_fold() -> None:
    """Four poles at 300 Hz leave ``1 / sqrt(1 + (1100/300)^8)`` of 1100 Hz: -45.2 dB (Butterworth)."""
    levels = []
    for front_end in ("no-filter", "low-pass-4-300"):
        hum = ("room.mains_hz=1100", "room.hum_db_spl=60", "front_end.stages=2", "front_end.bias_v=1.75")
        samples = recorded(quiet_rig(*SLOW, f"front_end.part={front_end}", *hum))
        near = np.exp(-2j * np.pi * 76.0 / 1024.0 * np.arange(4096)) * np.hanning(4096)
        levels.append(20.0 * math.log10(abs(near @ samples)))
    assert levels[1] - levels[0] == pytest.approx(-10.0 * math.log10(1.0 + (1100 / 300) ** 8), abs=0.1)


def test_the_second_partial_of_a_high_e_lies_inside_the_gate() -> None:
    """659.26 Hz at 1024/s is 364.7 Hz, 175 cents above E4 (sampling theorem); stiffness moves it by what it adds."""
    folding = ("converter.rate_hz=1024", "listening.window_samples=1024", "front_end.part=no-filter")
    rig = quiet_rig(*folding, "sound.partials=2", string="E4")
    second_hz = note_hz("E4") * ear_of(rig).scene.voice.ratios(note_hz("E4"))[1]
    found = loudest_hz(recorded(rig), 1024.0, 364.745)
    assert found == pytest.approx(1024.0 - second_hz, abs=0.05)
    assert cents(found, note_hz("E4")) == pytest.approx(175.2, abs=2.0)


# -- stiffness -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("string", ["E2", "A2", "D3"])
def test_a_period_is_read_sharp_of_the_first_partial(string: str) -> None:
    """The best period of slightly stretched partials is their mean pitch, weights ``(n A_n)^2`` (independent
    arithmetic, from the maximum of ``sum A_n^2 cos 2 pi f_n T``); 865.6 B (n^2 - 1) cents each (Fletcher 1964)."""
    few = ("sound.partials=6", "sound.t60_10_share=1", "converter.rate_hz=8000", "listening.window_samples=2048")
    rig = quiet_rig(*few, string=string)
    target_hz, ear = note_hz(string), ear_of(rig)
    partials = ear.scene.voice.partials(target_hz, 0.0, chance(rig).sound(0))
    heights = np.abs(partials.amplitudes * ear.circuit.gain(partials.ratios * target_hz))
    numbers, b = np.arange(1, 7), ear.scene.voice.string.bending_n / ear.scene.voice.string.tension_at_hz(target_hz)
    sharp = np.average(865.6 * b * (numbers**2 - 1.0), weights=(numbers * heights[:6]) ** 2)
    detector = SquareDifference(
        lowest_hz=target_hz / 1.2, highest_hz=target_hz * 1.2, share_of_highest=0.9, refine="period",
        least_periodicity=0.5,
    )  # fmt: skip
    read = detector.estimate(recorded(rig), 8000.0).pitch_hz
    assert sharp > 0.2
    assert cents(read, target_hz) == pytest.approx(sharp, abs=0.05 + 0.05 * sharp)


# -- noise ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [1024.0, 4000.0, 9615.4, 60_000.0])
def test_folding_keeps_the_power_of_the_noise(rate_hz: float) -> None:
    """The lines of the sampled noise sum to the integral of its density over all bands (Parseval)."""
    parts = {name: part.nominal() for name, part in load_rig("default", ear="signal").hearing.items()}
    microphone, front_end, room = parts["microphone"], parts["front_end"], parts["room"]
    lines = circuit(microphone, front_end, room).folded_noise_v(2 * round(rate_hz / 4.0), rate_hz)
    hz = np.linspace(0.0, HIGHEST_HZ, 400_001)
    sound = room.noise_pa2_hz(hz) * np.abs(microphone.response(hz)) ** 2
    own = (sound + microphone.noise_pa2_hz() * microphone.sensitivity_v_pa() ** 2) * np.abs(front_end.response(hz)) ** 2
    power = np.trapezoid(own + front_end.noise_v2_hz(hz, microphone.output_ohm), hz)
    assert lines @ lines == pytest.approx(power, rel=0.02)


@pytest.mark.parametrize("bits", [24, 12])
def test_the_floor_is_thermal_noise_and_rounding(bits: int) -> None:
    """``gain sqrt((e_n^2 + 4kTR) 1.1107 (f2 - f1))`` (Nyquist 1928; noise bandwidth of a two-pole Butterworth edge,
    independent arithmetic) and ``1/sqrt(12)`` of a step: together as squares."""
    silence = ("sound.level_db_spl=0", "microphone.noise_db_spl=-20", "front_end.high_pass_order=0")
    noises = ("front_end.input_noise_nv_rthz=30", "microphone.output_ohm=100000")
    rig = quiet_rig(*silence, *noises, f"converter.bits={bits}")
    rows = np.array([recorded(rig, number=number) for number in range(100)])
    step_v = 3.3 / 2**bits
    thermal_v = 300.0 * math.sqrt((30e-9**2 + 4.0 * 1.380649e-23 * 300.0 * 100e3) * 1.1107 * (1500.0 - 30.0))
    assert rows.std() == pytest.approx(math.hypot(thermal_v / step_v, 12**-0.5), rel=0.03)


def noisy_e2() -> tuple[Rig, SignalEar, Microphone]:
    steady = ("sound.partials=6", "sound.t60_10_share=1", "strings.E2.t60_s=50", "microphone.noise_db_spl=60")
    rig = quiet_rig(*steady)
    microphone: Microphone = (
        load_rig("default", changes=["microphone.noise_db_spl=60"], ear="signal").hearing["microphone"].nominal()
    )
    return rig, ear_of(rig), microphone


def test_least_squares_through_the_ear_stays_within_twice_the_bound() -> None:
    """Cramer-Rao bound of a harmonic sound after Rife & Boorstyn 1974; a Hann window costs 1.53 of it (independent
    arithmetic). Noise and string pass the same circuit, so the bound is reckoned in sound pressure."""
    rig, ear, microphone = noisy_e2()
    target_hz = note_hz("E2")
    partials = ear.scene.voice.partials(target_hz, 0.0, chance(rig).sound(0))
    noise_pa = math.sqrt(microphone.noise_pa2_hz() * 4000.0 / 2.0)
    heights = np.abs(partials.amplitudes[:6]) * np.exp(-partials.decays_s[:6] * 0.628)
    bound = 1731.2 * harmonic_hz(heights.tolist(), partials.ratios[:6].tolist(), noise_pa, 1024, 4000.0) / target_hz
    detector = LeastSquares(
        lowest_hz=70.0, highest_hz=100.0, partials=6, least_periodicity=0.0,
        inharmonicity=ear.scene.voice.string.bending_n / ear.scene.voice.string.tension_at_hz(target_hz),
    )  # fmt: skip
    read = [detector.estimate(recorded(rig, number=number), 4000.0).pitch_hz for number in range(200)]
    errors = np.array([cents(pitch_hz, target_hz) for pitch_hz in read if pitch_hz])
    assert len(errors) == 200 and abs(errors.mean()) < 0.3 * errors.std() + 0.01
    assert 1.2 < errors.std() / bound < 2.0
