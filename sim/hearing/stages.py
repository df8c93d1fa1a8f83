"""Textbook stages made of preferred parts: a non-inverting gain stage, RC and unity-gain Sallen-Key sections.

A filter of order n is a chain of sections, each with two poles, and one RC if n is odd. Resistors are of series E24,
capacitors of E12. Source: Sallen & Key, IRE Trans. Circuit Theory 2, 74 (1955); pole qualities
after Butterworth (1930).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from models.hearing.front_end import FrontEnd
from sim.hearing.preferred import E12, E24, at_least, nearest

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Parts = Mapping[str, Any]
"""Ohms and farads by name, such as ``R1`` and ``C1``; numbers, or arrays of draws with a last axis of length 1."""
Shape = Literal["low-pass", "high-pass"]

NEAR_OHM: Final = 47e3  # estimate: light load for an op-amp, still quiet, capacitors of 1 to 100 nF


@dataclass(frozen=True, slots=True)
class Section:
    """A filter section of one or two poles: parts as reckoned and as bought."""

    name: str
    shape: Shape
    wanted_hz: float
    wanted_q: float | None
    """Quality of its pole pair; None for a single pole."""
    exact: Mapping[str, float]
    bought: Mapping[str, float]

    def coefficients(self, parts: Parts) -> tuple[Any, Any]:
        """Return ``a1`` in s and ``a2`` in s^2 of the denominator ``1 + a1 s + a2 s^2``."""
        if self.wanted_q is None:
            return parts["R1"] * parts["C1"], 0.0
        r1, r2, c1, c2 = (parts[name] for name in ("R1", "R2", "C1", "C2"))
        return (c2 * (r1 + r2) if self.shape == "low-pass" else r1 * (c1 + c2)), r1 * r2 * c1 * c2

    def corner_hz(self, parts: Parts) -> Any:
        """Return the frequency of the pole or of the pole pair, in hertz."""
        a1, a2 = self.coefficients(parts)
        return 1.0 / (2.0 * math.pi * (a1 if self.wanted_q is None else np.sqrt(a2)))

    def quality(self, parts: Mapping[str, float]) -> float | None:
        """Return the quality of the pole pair; None for a single pole."""
        a1, a2 = self.coefficients(parts)
        return None if self.wanted_q is None else float(np.sqrt(a2) / a1)

    def response(self, parts: Parts, hz: Floats) -> Complexes:
        """Return the complex gain at ``hz``, shape of the parts broadcast with ``hz``."""
        a1, a2 = self.coefficients(parts)
        s = 2j * math.pi * hz
        highest = a1 * s if self.wanted_q is None else a2 * s * s
        found: Complexes = (1.0 if self.shape == "low-pass" else highest) / (1.0 + a1 * s + a2 * s * s)
        return found


@dataclass(frozen=True, slots=True)
class Amplifier:
    """A non-inverting gain stage ``1 + R1 / R2`` with one pole; ``R1`` from output to input, ``R2`` to the bias."""

    name: str
    gain_bandwidth_hz: float
    exact: Mapping[str, float]
    bought: Mapping[str, float]
    """Empty for a follower."""

    def gain(self, parts: Parts) -> Any:
        """Return the gain at low frequencies."""
        return 1.0 + parts["R1"] / parts["R2"] if parts else 1.0

    def response(self, parts: Parts, hz: Floats) -> Complexes:
        """Return the complex gain at ``hz``, shape of the parts broadcast with ``hz``."""
        found: Complexes = self.gain(parts) / (1.0 + 1j * hz * self.gain(parts) / self.gain_bandwidth_hz)
        return found


Stage = Section | Amplifier


def chain(front_end: FrontEnd) -> list[Stage]:
    """Return the stages that make a front end: high-passes, gain, low-passes.

    A band-pass becomes a high-pass and a low-pass of its order, which agree with it where its edges lie octaves apart.
    """
    edge = front_end.band_order
    highs = ((front_end.high_pass_order, front_end.high_pass_hz), (edge, front_end.band_low_hz))
    lows = ((edge, front_end.band_high_hz), (front_end.low_pass_order, front_end.low_pass_hz))
    gain_bandwidth_hz = front_end.gain_bandwidth_mhz * 1e6
    return [
        *(section for order, hz in highs for section in sections("high-pass", order, hz)),
        *(amplifier(f"gain {k + 1}", front_end.stage_gain(), gain_bandwidth_hz) for k in range(front_end.stages)),
        *(section for order, hz in lows for section in sections("low-pass", order, hz)),
    ]


def sections(shape: Shape, order: int, hz: float) -> list[Section]:
    """Return the sections of a Butterworth filter; a single pole comes first."""
    make = {"low-pass": low_pass, "high-pass": high_pass}[shape]
    single = [single_pole(shape, hz)] if order % 2 else []
    return [*single, *(make(hz, quality) for quality in qualities(order))]


def qualities(order: int) -> list[float]:
    """Return the qualities of the pole pairs of a Butterworth filter, rising: ``1 / (2 sin(pi (2k + 1) / 2n))``."""
    return [0.5 / math.sin(math.pi * (2 * k + 1) / (2 * order)) for k in reversed(range(order // 2))]


def amplifier(name: str, gain: float, gain_bandwidth_hz: float) -> Amplifier:
    """Return the gain stage whose pair of resistors comes nearest to ``gain``, 1 or more."""
    if gain == 1.0:
        return Amplifier(name, gain_bandwidth_hz, {}, {})
    grounds = [1e3 * step for step in E24]
    pairs = [(nearest((gain - 1.0) * ground, E24), ground) for ground in grounds]
    upper, ground = min(pairs, key=lambda pair: abs(math.log((1.0 + pair[0] / pair[1]) / gain)))
    exact = {"R1": (gain - 1.0) * ground, "R2": ground}
    return Amplifier(name, gain_bandwidth_hz, exact, {"R1": upper, "R2": ground})


def single_pole(shape: Shape, hz: float) -> Section:
    """Return one resistor and one capacitor; as a high-pass they couple the input of the gain stage."""
    rate = 2.0 * math.pi * hz
    capacitor = nearest(1.0 / (rate * NEAR_OHM), E12)
    return _section(f"RC {shape}", shape, hz, None, {"R1": 1.0 / (rate * capacitor), "C1": capacitor})


def low_pass(hz: float, quality: float) -> Section:
    """Return a Sallen-Key low-pass: ``C1`` from output to the middle of ``R1`` and ``R2``, ``C2`` to the bias.

    ``C1`` is at least ``4 Q^2 C2``; the resistors then follow from their sum and product.
    """
    rate = 2.0 * math.pi * hz
    low = nearest(1.0 / (2.0 * quality * rate * NEAR_OHM), E12)
    high = at_least(4.0 * quality**2 * low, E12)
    half, product = 1.0 / (2.0 * quality * rate * low), 1.0 / (rate**2 * low * high)
    off = math.sqrt(max(half**2 - product, 0.0))
    return _section(
        "Sallen-Key low-pass", "low-pass", hz, quality, {"R1": half + off, "R2": half - off, "C1": high, "C2": low}
    )


def high_pass(hz: float, quality: float) -> Section:
    """Return a Sallen-Key high-pass: ``R1`` from output to the middle of ``C1`` and ``C2``, ``R2`` to the bias."""
    rate = 2.0 * math.pi * hz
    capacitor = nearest(1.0 / (rate * NEAR_OHM), E12)
    ohm = 1.0 / (rate * capacitor)
    exact = {"R1": ohm / (2.0 * quality), "R2": 2.0 * quality * ohm, "C1": capacitor, "C2": capacitor}
    return _section("Sallen-Key high-pass", "high-pass", hz, quality, exact)


def _section(name: str, shape: Shape, hz: float, quality: float | None, exact: Mapping[str, float]) -> Section:
    bought = {part: nearest(value, E24 if part[0] == "R" else E12) for part, value in exact.items()}
    return Section(name, shape, hz, quality, exact, bought)
