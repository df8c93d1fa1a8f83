"""The string sticks in the nut, and lets go with a jump."""

from dataclasses import replace
from typing import Annotated, ClassVar

from pydantic import Field

from models.component import component
from models.faults.base import Built, Fault, Seam
from models.head.nut import Friction

BEHIND: float = 0.1  # of the string lies behind a nut of which nothing is known (estimate)


@component
class StuckNut(Fault):
    """The groove pinches: tension rises behind the nut and not before it, until the string jumps.

    Law: lets go at a tension ratio of ``holds``, and slides until it is ``slides``.

    Fails when: a wound string catches turn by turn.

    Source: capstan equation (Groves & Kemp, Archives of Acoustics 2019) for the form; the ratios are an estimate.
    """

    holds: Annotated[float, Field(ge=1, le=3)] = 1.18
    """Tension behind the nut over that before it, at which the string lets go."""

    slides: Annotated[float, Field(ge=1, le=3)] = 1.02
    """The same at which it holds again."""

    seam: ClassVar[Seam] = "rig"

    def alter(self, built: Built) -> Built:
        """Return the specimen with the pinching groove."""
        sound = built.chain.friction or _free(built.chain.string.stiffness_n_m)
        kinetic = min(self.slides, self.holds)
        grooves = sound._replace(nut_static=self.holds, nut_kinetic=kinetic)
        return built._replace(chain=replace(built.chain, friction=grooves))


def _free(stiffness_n_m: float) -> Friction:
    """Return a nut in which a string of that stiffness in all slides freely."""
    return Friction(stiffness_n_m / BEHIND, stiffness_n_m / (1.0 - BEHIND), 0.0, 1.0, 1.0, 1.0, 1.0)
