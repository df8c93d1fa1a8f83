"""Spectral detectors with usual parameters, and sounds with a known pitch, for tests."""

from dataclasses import replace
from typing import Any

import numpy as np

from models.detectors.base import Detector, Samples
from models.detectors.harmonic_comb import HarmonicComb
from models.detectors.harmonic_product import HarmonicProduct
from models.detectors.least_squares import LeastSquares
from models.detectors.phase_difference import PhaseDifference
from models.detectors.spectrum_peak import SpectrumPeak

RANGE: dict[str, float] = {"lowest_hz": 60.0, "highest_hz": 450.0, "least_periodicity": 0.5}
PEAK = SpectrumPeak(**RANGE, interpolation="hann-ratio", padding=1, arithmetic="float", shift_bits=0)
KINDS: dict[str, Any] = {
    "peak": PEAK,
    "parabola": replace(PEAK, interpolation="parabola", padding=4),
    "bin": replace(PEAK, interpolation="bin"),
    "fixed-16": replace(PEAK, arithmetic="fixed-16"),
    "harmonic product": HarmonicProduct(**RANGE, partials=4, padding=4),
    "harmonic comb": HarmonicComb(**RANGE, partials=6, padding=1, inharmonicity=0.0),
    "phase difference": PhaseDifference(**RANGE),
    "least squares": LeastSquares(**RANGE, partials=6, inharmonicity=0.0),
}


def told(kind: str, **known: Any) -> Detector:
    """Return a detector of a kind with some parameters changed."""
    detector: Detector = replace(KINDS[kind], **known)
    return detector


def partials(hz: float, amplitudes: list[float], samples: int, rate_hz: float, inharmonicity: float = 0.0) -> Samples:
    """Return steady partials of a string whose first has ``hz``, phases 1, 2, 3 ... radians, largest step 1000."""
    time = np.arange(samples) / rate_hz
    sound = np.zeros(samples)
    for number, amplitude in enumerate(amplitudes, 1):
        stretch = np.sqrt((1.0 + inharmonicity * number**2) / (1.0 + inharmonicity))
        sound += amplitude * np.sin(2.0 * np.pi * number * stretch * hz * time + number)
    return 1000.0 * sound / max(1e-9, float(np.abs(sound).max()))
