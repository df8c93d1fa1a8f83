"""A recording as a converter hands it over: resampled by an ideal input, or through a rig's circuit and converter."""

from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.hearing.circuit import HIGHEST_HZ, Circuit
from models.hearing.microphone import pressure_pa
from models.hearing.signal import Recorded, SignalEar
from sim.hearing.listener import Listener
from sim.hearing.wave import Wave

Floats = NDArray[np.float64]

LEVEL_S: Final = 0.5  # the loudest such stretch sets the level
BLOCK_S: Final = 1.0  # sound that goes through the circuit at a time
MARGIN_S: Final = 0.5  # sound before and after: a corner of 5 Hz forgets all but 1e-6 in it
FINER: Final = 8  # instants between two samples, so that a cubic errs by less than 1e-3 at the highest frequency
STEPS: Final = 512.0  # full scale of an ideal input, as of 10 bits; its steps are not rounded
FULL: Final = 0.999  # of full scale: a sample that was cut


def played(wave: Wave, listener: Listener) -> Floats:
    """Return the sound at the converter's instants, volts re rest for a rig, steps without one."""
    sound = wave.samples - wave.samples.mean()
    if listener.ear is None:
        return STEPS * _resampled(sound, wave.rate_hz, listener.rate_hz)
    loudest = loudest_rms(sound, round(LEVEL_S * wave.rate_hz))
    scale = pressure_pa(listener.level_db_spl) / loudest if loudest else 0.0
    return volts(scale * sound, wave.rate_hz, listener.ear)


def recorded(window: Floats, listener: Listener) -> Recorded:
    """Return a window of what ``played`` returned: converted by a rig, as it is behind an ideal input."""
    if listener.ear is not None:
        return listener.ear.converted(window)
    heights = np.abs(window) / STEPS
    return Recorded(window - window.mean(), float(heights.max()), float(np.mean(heights >= FULL)))


def volts(sound_pa: Floats, rate_hz: float, ear: SignalEar) -> Floats:
    """Return the front end's output re its rest at the nominal converter's instants, before any limit.

    Nothing but the circuit keeps out what folds. Microphone, circuit and clock add no noise: the recording has its own.
    """
    instants = ear.converter.instants_s(int(len(sound_pa) / rate_hz * ear.converter.true_hz())) * rate_hz
    block, margin = round(BLOCK_S * rate_hz), round(MARGIN_S * rate_hz)
    padded = np.pad(sound_pa, (margin, margin + block))
    found = np.empty(len(instants))
    for first in range(0, len(sound_pa), block):
        fine = _behind(padded[first : first + block + 2 * margin], rate_hz, ear.circuit)
        here = slice(*np.searchsorted(instants, (first, first + block)))
        found[here] = _between(fine, (instants[here] - first + margin) * FINER)
    return found


def loudest_rms(sound: Floats, stretch: int) -> float:
    """Return the rms of the loudest stretch of so many samples, of the whole if it is shorter."""
    stretch = min(stretch, len(sound))
    peak = float(np.abs(sound).max())
    if not peak:
        return 0.0
    sums = np.concatenate([[0.0], np.cumsum((sound / peak) ** 2)])
    return peak * float(np.sqrt((sums[stretch:] - sums[:-stretch]).max() / stretch))


def _resampled(sound: Floats, from_hz: int, to_hz: float) -> Floats:
    from scipy.signal import resample_poly

    ratio = Fraction(round(to_hz), from_hz)
    found: Floats = resample_poly(sound, ratio.numerator, ratio.denominator)
    return found


def _behind(sound_pa: Floats, rate_hz: float, circuit: Circuit) -> Floats:
    """Return volts behind a circuit, with ``FINER`` values to a sample."""
    spectrum = np.fft.rfft(sound_pa)
    hz: Floats = np.fft.rfftfreq(len(sound_pa), 1.0 / rate_hz).astype(np.float64)
    spectrum *= np.where(hz <= HIGHEST_HZ, circuit.gain(hz), 0.0)
    return np.fft.irfft(spectrum, FINER * len(sound_pa)) * FINER


def _between(values: Floats, places: Floats) -> Floats:
    """Return values at places between whole ones, by the cubic through the four nearest (Lagrange)."""
    whole = places.astype(np.intp)
    u = places - whole
    before, here, after, beyond = (values[whole + step] for step in (-1, 0, 1, 2))
    found: Floats = (
        before * (-u * (u - 1.0) * (u - 2.0) / 6.0)
        + here * ((u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0)
        + after * (-(u + 1.0) * u * (u - 2.0) / 2.0)
        + beyond * ((u + 1.0) * u * (u - 1.0) / 6.0)
    )
    return found
