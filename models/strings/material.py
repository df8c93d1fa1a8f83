"""What strings are made of: density, stiffness, tensile strength."""

from bisect import bisect_left
from collections.abc import Sequence
from math import exp, log
from typing import Annotated

from pydantic import Field

from models.component import component


@component
class Material:
    """A core or wrap material.

    Law: ``strength = table(diameter)`` where drawn wire gets stronger as it gets thinner, else one range.

    Fails when: the wire is kinked, corroded or knotted; strength then falls by a factor that no table knows.

    Source: the ``source`` of its entry in the parts library.
    """

    density_kg_m3: Annotated[float, Field(gt=500, lt=25000)]
    """Mass per volume. From a materials handbook."""

    youngs_modulus_gpa: Annotated[float, Field(gt=0.1, lt=400)]
    """Slope of stress over strain at playing tension. From a materials handbook, or hang weights on the string."""

    strength_mpa: Annotated[float, Field(gt=10, lt=6000)]
    """Tensile strength of an unknotted, straight piece. From the wire standard or the maker."""

    knot_factor: Annotated[float, Field(gt=0.1, le=1)]
    """Share of the strength that is left at ball end, twist, knot and the bend at the post."""


def strength_at(diameter_mm: float, diameters_mm: Sequence[float], strengths_mpa: Sequence[float]) -> float:
    """Return the strength at a diameter, log-log between table rows (rising diameters), flat beyond its ends.

    Drawn wire follows ``A / d^m`` closely (Shigley's form), which is a straight line in logarithms.
    """
    above = bisect_left(diameters_mm, diameter_mm)
    if above == 0:
        return strengths_mpa[0]
    if above == len(diameters_mm):
        return strengths_mpa[-1]
    left, right = above - 1, above
    share = log(diameter_mm / diameters_mm[left]) / log(diameters_mm[right] / diameters_mm[left])
    return exp((1.0 - share) * log(strengths_mpa[left]) + share * log(strengths_mpa[right]))


def breaking_tension_n(strength_mpa: float, knot_factor: float, area_mm2: float) -> float:
    """Return ``strength * knot factor * area`` of the core (MPa mm^2 = N)."""
    return strength_mpa * knot_factor * area_mm2
