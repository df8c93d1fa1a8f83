"""Pitch detectors: a window of samples in, an estimate out; one kind a file."""

DETECTORS: dict[str, str] = {}
"""Name of a kind -> ``"module:Class"``."""
