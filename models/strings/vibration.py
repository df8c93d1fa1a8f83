"""Transverse vibration of a stretched string: Mersenne's law both ways, stiffness, what a period detector hears.

Sources: Fletcher & Rossing, The Physics of Musical Instruments, 2nd ed., sections 2.2 (ideal string) and 2.18
(stiff string); Fletcher, J. Acoust. Soc. Am. 36, 203 (1964).
"""

import math
from typing import Final

PARTIALS_HEARD: Final = 6  # partials that a period detector weighs, amplitude falling as 1/n (estimate)


def frequency_hz(tension_n: float, unit_weight_kg_m: float, length_m: float) -> float:
    """Return Mersenne's ``f = sqrt(T/mu) / 2L``. All arguments above 0; raises ``ValueError`` otherwise."""
    if min(tension_n, unit_weight_kg_m, length_m) <= 0:
        raise ValueError("tension, unit weight and length must be above 0")
    return math.sqrt(tension_n / unit_weight_kg_m) / (2.0 * length_m)


def tension_n(frequency_hz: float, unit_weight_kg_m: float, length_m: float) -> float:
    """Return Mersenne's ``T = mu (2 L f)^2`` in newtons. All arguments above 0; raises ``ValueError`` otherwise."""
    if min(frequency_hz, unit_weight_kg_m, length_m) <= 0:
        raise ValueError("frequency, unit weight and length must be above 0")
    return unit_weight_kg_m * (2.0 * length_m * frequency_hz) ** 2


def stretched_unit_weight(unstretched_kg_m: float, strain: float) -> float:
    """Return the unit weight of a string that is stretched: the same mass on a length ``1 + strain``."""
    return unstretched_kg_m / (1.0 + strain)


def bending_term_n(youngs_modulus_pa: float, bending_diameter_m: float, length_m: float) -> float:
    """Return ``b = pi^3 E d^4 / (64 L^2)`` in newtons, so that the inharmonicity is ``B = b / T``."""
    return math.pi**3 * youngs_modulus_pa * bending_diameter_m**4 / (64.0 * length_m**2)


def inharmonicity(bending_term_n: float, tension_n: float) -> float:
    """Return ``B`` of ``f_n = n f0 sqrt(1 + B n^2)``."""
    return bending_term_n / tension_n


def partial_hz(number: int, ideal_hz: float, inharmonicity: float) -> float:
    """Return the frequency of partial ``number`` (from 1): ``n f0 sqrt(1 + B n^2)``."""
    return number * ideal_hz * math.sqrt(1.0 + inharmonicity * number**2)


def effective_ratio(inharmonicity: float, partials: int = PARTIALS_HEARD) -> float:
    """Return the pitch that a period detector hears, as a ratio to the first partial.

    A least-squares period over partials of amplitude ``1/n`` weighs each partial by ``(n A_n)^2 = 1``, so that the
    pitch is the mean over partials of ``f_n / n``; to first order the ratio is ``1 + B/2 * mean(n^2 - 1)``.
    """
    mean_square = (partials + 1) * (2 * partials + 1) / 6.0
    return 1.0 + 0.5 * inharmonicity * (mean_square - 1.0)


def amplitude_db(seconds: float, t60_s: float) -> float:
    """Return the level of a decaying note re its start: ``-60 t / T60`` dB."""
    return -60.0 * seconds / t60_s
