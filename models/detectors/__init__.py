"""Pitch detectors: a window of samples in, an estimate out; one kind a file."""

DETECTORS = {
    "zero-crossing": "models.detectors.zero_crossing:ZeroCrossing",
    "spectrum-peak": "models.detectors.spectrum_peak:SpectrumPeak",
    "harmonic-product": "models.detectors.harmonic_product:HarmonicProduct",
    "harmonic-comb": "models.detectors.harmonic_comb:HarmonicComb",
    "autocorrelation": "models.detectors.autocorrelation:Autocorrelation",
    "difference": "models.detectors.difference:DifferenceFunction",
    "square-difference": "models.detectors.square_difference:SquareDifference",
    "phase-difference": "models.detectors.phase_difference:PhaseDifference",
    "least-squares": "models.detectors.least_squares:LeastSquares",
}
"""Name of a kind -> ``"module:Class"``."""
