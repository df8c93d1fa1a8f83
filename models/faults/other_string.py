"""Another string is on the instrument than the one that was planned for."""

from dataclasses import replace
from typing import ClassVar

from models.component import component
from models.faults.base import Built, Factor, Fault, Seam


@component
class WrongGauge(Fault):
    """The string is thicker or thinner than planned, of the same wire.

    Law: stiffness, mass and breaking tension times ``d^2``, bending term times ``d^4``.

    Fails when: thinner wire is also stronger; the breaking pitch then rises a little.

    Source: area and second moment of a round wire.
    """

    diameter_factor: Factor = 1.3
    """Diameter over the planned one. 0.013 inch in place of 0.010 is 1.3."""

    seam: ClassVar[Seam] = "rig"

    def alter(self, built: Built) -> Built:
        """Return the specimen with the other string."""
        area, string = self.diameter_factor**2, built.chain.string
        other = replace(
            string, ea_n=string.ea_n * area, stiffness_n_m=string.stiffness_n_m * area,
            mass_n_s2=string.mass_n_s2 * area, breaking_n=string.breaking_n * area,
            bending_n=string.bending_n * area**2,
        )  # fmt: skip
        return built._replace(chain=built.chain.restrung(other))


@component
class WrongMaterial(Fault):
    """The string is of another material than planned, at the same gauge.

    Law: mass, stiffness and breaking tension times the ratio of density, Young's modulus and strength.

    Fails when: it is wound, and core and wrap change by different ratios.

    Source: phosphor bronze wire over music wire, 8800 to 7850 kg/m3, 110 to 205 GPa, 900 to 2300 MPa: handbook values
    from memory.
    """

    density_factor: Factor = 1.12
    """Density over the planned one."""

    modulus_factor: Factor = 0.54
    """Young's modulus over the planned one."""

    strength_factor: Factor = 0.4
    """Strength over the planned one."""

    seam: ClassVar[Seam] = "rig"

    def alter(self, built: Built) -> Built:
        """Return the specimen with the other string."""
        string, modulus = built.chain.string, self.modulus_factor
        other = replace(
            string, ea_n=string.ea_n * modulus, stiffness_n_m=string.stiffness_n_m * modulus,
            bending_n=string.bending_n * modulus, mass_n_s2=string.mass_n_s2 * self.density_factor,
            breaking_n=string.breaking_n * self.strength_factor,
        )  # fmt: skip
        return built._replace(chain=built.chain.restrung(other))
