"""The body that all strings pull on: it gives way, so that one string that is tightened lets the others fall."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from models.component import NonNegative, component


@component
class Body:
    """Neck, top and bridge as one spring along the strings.

    Law: with stiffness ``k`` of each string, a string that is wound by ``dx`` rises by ``k dx (1 + C K') / (1 + C K)``,
    ``K`` the sum over all strings, ``K'`` over the others; as it rises by ``dT`` each other one changes by
    ``-k C dT / (1 + C K')``.

    Fails when: a string is slack or held by its nut while the body moves; when strings pull on different places of a
    bridge that tilts; or when a floating bridge comes to its stop.

    Source: independent arithmetic of springs in a row; no published measurement of the compliance was found.
    """

    compliance_um_per_n: NonNegative
    """Way of the body along the strings per force; 0 = rigid. From the fall of the others as you raise one string."""


@dataclass(frozen=True, slots=True)
class Coupling:
    """Strings on one body: how far it takes part in what one of them does."""

    compliance_m_n: float
    stiffness_n_m: Mapping[str, float]
    """Of each whole string, by name."""

    def give_m_n(self, string: str, taut: Collection[str]) -> float:
        """Return how far the body gives way per force of ``string``, held by the other ``taut`` strings."""
        others = sum(self.stiffness_n_m[name] for name in self._others(string, taut))
        return self.compliance_m_n / (1.0 + self.compliance_m_n * others)

    def pulled_n(self, string: str, rise_n: float, taut: Collection[str]) -> dict[str, float]:
        """Return by what the tension of each other taut string changes as that of ``string`` rises by ``rise_n``."""
        way_m = self.give_m_n(string, taut) * rise_n
        return {name: -self.stiffness_n_m[name] * way_m for name in self._others(string, taut)}

    def _others(self, string: str, taut: Collection[str]) -> list[str]:
        """Return the other taut strings, always in one order: sums do not depend on that of a set."""
        return [name for name in self.stiffness_n_m if name in taut and name != string]
