"""Microphone, front end, converter and processor against numbers from outside, each with its source."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from pytest import approx

from models.detectors.base import Work
from models.hearing.converter import Converter
from models.hearing.front_end import FrontEnd, butterworth, thermal_v2_hz
from models.hearing.microphone import Microphone, pressure_pa
from models.hearing.processor import Processor
from models.units import cents, note_hz
from sim.hearing.tolerances import folded_hz

FLAT = FrontEnd(
    gain=1.0, stages=1, gain_bandwidth_mhz=10_000.0, supply_v=5.0, supply="single", swing_low_v=0.0, swing_high_v=0.0,
    bias_v=2.5, high_pass_hz=1.0, high_pass_order=0, band_low_hz=80.0, band_high_hz=400.0, band_order=0,
    low_pass_hz=1000.0, low_pass_order=0, input_noise_nv_rthz=0.0,
)  # fmt: skip


def front_end(**changed: Any) -> FrontEnd:
    return replace(FLAT, **changed)


def converter(**changed: object) -> Converter:
    fields = {
        "rate_hz": 1024.0, "bits": 10, "reference_v": 5.0, "clock_ppm": 0.0, "jitter_us": 0.0,
        "conversion_cycles": 13.0, "converter_clock_khz": 1000.0, "nonlinearity_steps": 0.0,
    }  # fmt: skip
    return Converter(**{**fields, **changed})


def microphone() -> Microphone:
    return Microphone(
        sensitivity_db_v_pa=-44.0, noise_db_spl=33.0, output_ohm=2200.0, lowest_hz=20.0, highest_hz=20_000.0
    )


def db(gain: np.ndarray) -> np.ndarray:
    return 20.0 * np.log10(np.abs(gain))


# -- filters -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hz", "level"), [(80.0, -3.010), (400.0, -3.010), (178.885, 0.0), (82.41, -2.819), (41.2, -7.982)]
)
def test_two_pole_band_pass(hz: float, level: float) -> None:
    """Closed form of a resonance, printed to 0.005 dB by scipy.signal.butter and freqs (independent library)."""
    assert db(front_end(band_order=1).response(np.array([hz]))) == approx(level, abs=0.005)


@pytest.mark.parametrize(("hz", "level"), [(41.2, -14.610), (659.26, -11.543), (941.59, -18.176)])
def test_four_pole_band_pass(hz: float, level: float) -> None:
    """scipy.signal.butter(2, [80, 400], "bandpass", analog=True) with freqs (independent library)."""
    assert db(front_end(band_order=2).response(np.array([hz]))) == approx(level, abs=0.005)


def resonance() -> FrontEnd:
    """Return a two-pole band-pass at 180 Hz with Q = 1: edges 180 (sqrt(5)/2 -+ 1/2)."""
    half = 180.0 * np.sqrt(1.25)
    return front_end(band_order=1, band_low_hz=float(half - 90.0), band_high_hz=float(half + 90.0))


def test_resonance_of_quality_one() -> None:
    """Closed form |H|^2 = 1 / (1 + Q^2 (f/f0 - f0/f)^2): edges 111.246 and 291.246 Hz (independent arithmetic)."""
    circuit = resonance()
    assert (circuit.band_low_hz, circuit.band_high_hz) == approx((111.246, 291.246), abs=1e-3)
    assert db(circuit.response(np.array([90.0, 360.0, 720.0]))) == approx([-5.1188, -5.1188, -11.779], abs=1e-3)


def test_group_delay_of_a_resonance() -> None:
    """Closed form 2 Q / w0 = 1.7684 ms at the centre (independent arithmetic)."""
    hz = np.array([179.9, 180.1])
    phase = np.unwrap(np.angle(resonance().response(hz)))
    assert -np.diff(phase) / (2.0 * np.pi * np.diff(hz)) == approx(1.7684e-3, abs=1e-6)


def test_a_filter_run_at_the_sample_rate_would_be_warped() -> None:
    """scipy.signal.bilinear of the same resonance at 4000/s gives -12.833 dB at 720 Hz, the circuit -11.779."""
    warped = np.tan(np.pi * 720.0 / 4000.0) * 4000.0 / np.pi
    assert db(resonance().response(np.array([warped]))) == approx(-12.833, abs=0.005)


def test_bandwidth_of_an_op_amp() -> None:
    """One-pole law: 1 MHz at a gain of 1000 leaves a pole at 1 kHz, -1.570 dB at 660 Hz (independent arithmetic)."""
    circuit = front_end(gain=1000.0, gain_bandwidth_mhz=1.0)
    assert circuit.pole_hz() == approx(1000.0)
    assert db(circuit.response(np.array([660.0]))) - 60.0 == approx(-1.570, abs=0.001)


# -- levels and noise ----------------------------------------------------------------------------------------------


def test_thermal_noise() -> None:
    """Johnson, Nyquist 1928: 10 kohm at 300 K over 20 kHz 1.8203 uV, 1 kohm 4.070 nV/rtHz (independent arithmetic)."""
    assert np.sqrt(thermal_v2_hz(10_000.0) * 20_000.0) == approx(1.8203e-6, rel=1e-3)
    assert np.sqrt(thermal_v2_hz(1000.0)) == approx(4.070e-9, rel=1e-3)


@pytest.mark.parametrize("ohm", [100.0, 10_000.0])
def test_thermal_noise_on_a_capacitor(ohm: float) -> None:
    """Whatever resistor charges it, 14 pF hold sqrt(kT/C) = 17.20 uV at 300 K (Nyquist 1928; 14 pF from memory)."""
    corner = 1.0 / (2.0 * np.pi * ohm * 14e-12)
    hz = corner * np.logspace(-4, 5, 4000)
    power = np.trapezoid(thermal_v2_hz(ohm) * np.abs(butterworth(hz, "lowpass", 1, corner)) ** 2, hz)
    assert np.sqrt(power) == approx(17.20e-6, abs=0.01e-6)


def test_level_of_a_microphone() -> None:
    """Definitions: 94 dB SPL are 1.00237 Pa; -44 dB re 1 V/Pa then give 6.3246 mV; x100 is 129.53 steps of 5 V/1024."""
    volts = microphone().sensitivity_v_pa() * pressure_pa(94.0)
    assert pressure_pa(94.0) == approx(1.00237, rel=1e-5)
    assert volts == approx(6.3246e-3, rel=1e-4)
    assert 100.0 * volts / converter().step_v() == approx(129.53, rel=1e-4)


@pytest.mark.parametrize(("level", "steps"), [(60.0, 2.58), (40.0, 0.258)])
def test_quiet_sounds_are_a_few_steps(level: float, steps: float) -> None:
    """Definitions, as above (independent arithmetic)."""
    volts = 100.0 * microphone().sensitivity_v_pa() * pressure_pa(level)
    assert volts / converter().step_v() == approx(steps, rel=0.01)


# -- converter -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("divider", "rate"), [(128, 9615.4), (64, 19230.8), (32, 38461.5)])
def test_fastest_rate(divider: int, rate: float) -> None:
    """Data sheet of an 8-bit microcontroller, from memory: 13 cycles a conversion, 16 MHz through a divider."""
    assert converter(converter_clock_khz=16_000.0 / divider).fastest_hz() == approx(rate, abs=0.1)


@pytest.mark.parametrize(("bits", "wanted"), [(8, 49.93), (10, 61.97), (12, 74.01), (16, 98.09)])
def test_noise_of_quantising_a_full_scale_tone(bits: int, wanted: float) -> None:
    """The standard 6.02 N + 1.76 dB; clipping at the last step costs up to half a decibel at 8 bits."""
    volts = 2.5 * np.sin(2.0 * np.pi * 0.0377123 * np.arange(50_000))
    codes, _ = converter(bits=bits).codes(volts, 2.5)
    noise = codes - np.mean(codes) - volts / converter(bits=bits).step_v()
    assert 20.0 * np.log10(2.0 ** (bits - 1) / np.sqrt(2.0) / np.std(noise)) == approx(wanted, abs=0.6)


@pytest.mark.parametrize(("hz", "wanted"), [(1000.0, 24.04), (82.0, 45.76)])
def test_jitter(hz: float, wanted: float) -> None:
    """10 us rms of jitter: -20 log10(2 pi f s) (independent arithmetic)."""
    normals = np.random.default_rng(1).standard_normal(200_000)
    clock = converter(rate_hz=4000.0, jitter_us=10.0)
    at_s = clock.instants_s(len(normals))
    wave = [np.sin(2.0 * np.pi * hz * (at_s + late)) for late in (clock.jitter_s(normals), 0.0)]
    assert 20.0 * np.log10(np.std(wave[1]) / np.std(wave[0] - wave[1])) == approx(wanted, abs=0.05)


@pytest.mark.parametrize(("hz", "alias"), [(660.0, 364.0), (1100.0, 76.0), (12 * 82.407, 35.116)])
def test_folding(hz: float, alias: float) -> None:
    """Sampling theorem: at 1024/s a tone and its alias give the same samples."""
    instants = converter().instants_s(256)
    assert folded_hz(np.array([hz]), 1024.0) == approx(alias, abs=0.001)
    assert np.cos(2.0 * np.pi * hz * instants) == approx(
        np.cos(2.0 * np.pi * folded_hz(hz, 1024.0) * instants), abs=1e-9
    )


def test_second_partial_of_a_high_e_folds_beside_the_string() -> None:
    """659.255 Hz at 1024/s: 364.745 Hz, 175.2 cents above E4 (independent arithmetic)."""
    alias = float(folded_hz(np.array(2.0 * note_hz("E4")), 1024.0))
    assert alias == approx(364.745, abs=0.01)
    assert cents(alias, note_hz("E4")) == approx(175.2, abs=0.1)


@pytest.mark.parametrize(("ppm", "flat"), [(5000, 8.6346), (10_000, 17.2264), (30, 0.0519), (2021, 3.4953)])
def test_clock(ppm: float, flat: float) -> None:
    """A clock that runs fast reads flat by 1200 log2(1 + ppm): independent arithmetic."""
    first, second = converter(clock_ppm=float(ppm)).instants_s(2)
    believed_hz = 100.0 * (second - first) * 1024.0  # 100 Hz, with time counted in samples of 1/1024 s
    assert cents(100.0, believed_hz) == approx(flat, abs=1e-3)


# -- processor -----------------------------------------------------------------------------------------------------


def test_transform_on_an_8_bit_processor() -> None:
    """A published 8-bit transform library: 256 points in 6.32 ms at 16 MHz, 7.93 ms with order, window, magnitude."""
    small = Processor(
        clock_mhz=16.0, memory_bytes=2048, cycles_per_butterfly=49.4, cycles_per_multiply=30.0,
        cycles_per_function=600.0, bytes_per_word=2,
    )  # fmt: skip
    assert 1e3 * small.seconds(Work(256 * 8, 0, 0, 512)) == approx(6.32, abs=0.01)
    assert 1e3 * small.seconds(Work(256 * 8, 3 * 256, 0, 512)) == approx(7.93, rel=0.05)


def test_transform_on_a_32_bit_processor() -> None:
    """A published time: 4096 points in 2.4 ms at 204 MHz, by N log N 1.59 ms for 1024 points at 64 MHz."""
    cycles = 2.4e-3 * 204e6 / (4096 * 12)
    larger = Processor(
        clock_mhz=64.0, memory_bytes=65536, cycles_per_butterfly=cycles, cycles_per_multiply=2.0,
        cycles_per_function=40.0, bytes_per_word=2,
    )  # fmt: skip
    assert cycles == approx(10.0, abs=0.1)
    assert 1e3 * larger.seconds(Work(1024 * 10, 0, 0, 2048)) == approx(1.59, abs=0.01)
