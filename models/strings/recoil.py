"""What a string holds when it breaks: the energy of its stretch, and how fast its free end flies off.

The stretch is elastic, so that a break sends an unloading wave along the string; behind it the string moves at one
speed and carries all the energy that was stored. Bending, the air and what the end takes with it are left out: the
speeds are upper bounds. Source: impact of elastic rods, Timoshenko & Goodier, Theory of Elasticity, section 168 (from
memory).
"""

import math


def stored_energy_j(tension_n: float, stiffness_n_m: float) -> float:
    """Return ``T^2 / 2k``, the work that stretched a string of stiffness ``k = EA / total length`` from slack."""
    return 0.5 * tension_n**2 / stiffness_n_m


def wave_speed_m_s(youngs_modulus_pa: float, density_kg_m3: float) -> float:
    """Return ``c = sqrt(E / rho)``, at which stretch, and its end, travel along a string."""
    return math.sqrt(youngs_modulus_pa / density_kg_m3)


def recoil_speed_m_s(stress_pa: float, youngs_modulus_pa: float, density_kg_m3: float) -> float:
    """Return ``v = sigma / (rho c)``, how fast the free end of a plain string flies off at most."""
    return stress_pa / (density_kg_m3 * wave_speed_m_s(youngs_modulus_pa, density_kg_m3))
