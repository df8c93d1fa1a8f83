"""The signal ear: the sound of a string through microphone, circuit, converter and detector."""

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import Detector, work_of
from models.hearing.base import EarChance, Heard, Window
from models.hearing.circuit import Circuit
from models.hearing.converter import Converter
from models.hearing.listening import Listening
from models.hearing.processor import Processor
from models.hearing.scene import Instants, Scene
from models.instrument import Instrument

Floats = NDArray[np.float64]

PARTING: Final = 256  # samples of noise between a window's end and its start; it has forgotten itself by then


class Recorded(NamedTuple):
    """One window as the converter hands it over."""

    samples: Floats
    """Whole steps without their mean, shape (window_samples,)."""
    peak_share: float
    """Largest sample as a share of half the converter's range."""
    clipped_share: float
    """Share of the samples that met a limit of the circuit or of the converter."""


@dataclass(frozen=True, slots=True)
class SignalEar:
    """A microphone with its circuit, converter, processor and detector, on one string.

    ``computing_s`` is what the processor needs for one estimate; ``noise_scale`` is 1, or what a study makes of it.
    """

    scene: Scene
    circuit: Circuit
    converter: Converter
    listening: Listening
    detector: Detector
    computing_s: float
    noise_v: Floats
    """Rms of each spectral line of the circuit's noise, over somewhat more than a window; shape (lines,)."""
    burst_v: Floats
    """The same for white sound of 1 Pa."""
    noise_scale: float = 1.0

    @property
    def skip_s(self) -> float:
        """Time after the pluck that is not listened to."""
        return self.listening.skip_s

    @property
    def window_s(self) -> float:
        """Length of a window."""
        return self.listening.window_samples / self.converter.rate_hz

    @property
    def hop_s(self) -> float:
        """Time from the start of one window to that of the next."""
        return self.listening.hop_samples / self.converter.rate_hz

    @property
    def link_s(self) -> float:
        """Time to hand the reading to the controller."""
        return self.listening.link_s

    def listen(self, instrument: Instrument, window: Window, chance: EarChance) -> Heard:
        """Return what the detector makes of a window that has closed."""
        recorded = self.record(instrument, window, chance)
        resting = instrument.paths[window.string].resting_n(window.open_ns, window.close_ns)
        estimate = self.detector.estimate(recorded.samples, self.converter.rate_hz)
        return Heard(estimate, resting is None, recorded.peak_share, recorded.clipped_share)

    def record(self, instrument: Instrument, window: Window, chance: EarChance) -> Recorded:
        """Return what the converter makes of a window that has closed."""
        return self.converted(self.volts(instrument, window, chance))

    def converted(self, volts: Floats) -> Recorded:
        """Return what limits of the circuit and the converter make of its output re its rest."""
        low_v, high_v = self.circuit.low_v, self.circuit.high_v
        clipped = 0
        if volts.min() <= low_v or volts.max() >= high_v:
            clipped = int(np.count_nonzero(volts <= low_v)) + int(np.count_nonzero(volts >= high_v))
            volts = np.clip(volts, low_v, high_v)
        codes, at_end = self.converter.codes(volts, self.circuit.rest_v)
        peak = max(float(codes.max()), -float(codes.min()))
        peak_share = math.ldexp(peak, 1 - self.converter.bits)
        return Recorded(codes - round(float(codes.mean())), peak_share, max(clipped / len(volts), at_end))

    def volts(self, instrument: Instrument, window: Window, chance: EarChance) -> Floats:
        """Return the front end's output re its rest at the converter's instants, before any limit; shape (samples,)."""
        count, string = self.listening.window_samples, window.string
        instants = Instants(window.open_ns, 1.0 / self.converter.true_hz(), count)
        bursts = self.scene.bursts(instrument, string, instants)
        stream = chance.noise(window.pluck, window.number)
        volts = self.noise_scale * _coloured(self.noise_v, stream, count)
        if bursts.any():
            volts += bursts * _coloured(self.burst_v, stream, count)
        jitter_s = self.converter.jitter_s(stream.standard_normal(count, dtype=np.float32))
        volts += self.scene.tones(instrument, string, instants, self.circuit.gain, chance, jitter_s)
        return volts


def signal_ear(
    scene: Scene, circuit: Circuit, converter: Converter, processor: Processor, listening: Listening, detector: Detector
) -> SignalEar:
    """Return the ear of one string, with everything made ready that no window changes.

    A detector that does not say what it costs is taken to cost no time.
    """
    points, rate_hz = longer(listening.window_samples), converter.rate_hz
    work = work_of(detector, listening.window_samples, rate_hz)
    return SignalEar(
        scene=scene,
        circuit=circuit,
        converter=converter,
        listening=listening,
        detector=detector,
        computing_s=0.0 if work is None else processor.seconds(work),
        noise_v=circuit.folded_noise_v(points, rate_hz),
        burst_v=circuit.folded_burst_v(points, rate_hz),
    )


def longer(samples: int) -> int:
    """Return the points of noise that is drawn for a window: enough that what is cut off parts its two ends."""
    return samples + max(PARTING, samples // 4) // 2 * 2 + samples % 2


def _coloured(lines: Floats, stream: np.random.Generator, count: int) -> Floats:
    """Return the first ``count`` samples of noise whose spectral lines have given rms."""
    normals = stream.standard_normal((2, len(lines)))
    spectrum = np.empty(len(lines), dtype=np.complex128)
    np.multiply(lines, normals[0], out=spectrum.real)
    np.multiply(lines, normals[1], out=spectrum.imag)
    spectrum[0], spectrum[-1] = spectrum[0].real * 2.0, spectrum[-1].real * 2.0
    found: Floats = np.fft.irfft(spectrum, norm="forward")[:count]
    found *= 0.5
    return found
