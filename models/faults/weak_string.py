"""The string breaks earlier than a sound one."""

from dataclasses import replace
from typing import ClassVar

from models.component import component
from models.faults.base import Built, Fault, Left, Seam


@component
class Corroded(Fault):
    """The string is old: corroded and worn.

    Law: breaking tension times ``strength_left``.

    Fails when: corrosion is local and deep; no factor knows how deep.

    Source: estimate.
    """

    strength_left: Left = 0.62
    """Share of the strength that is left. Nothing measures it but a break."""

    seam: ClassVar[Seam] = "rig"

    def alter(self, built: Built) -> Built:
        """Return the specimen with the weak string."""
        return weakened(built, self.strength_left)


@component
class Nicked(Fault):
    """The string has a kink or a nick, at a saddle or a post.

    Law: breaking tension times ``strength_left``.

    Fails when: the nick grows with each tuning.

    Source: estimate.
    """

    strength_left: Left = 0.7
    """Share of the strength that is left. Nothing measures it but a break."""

    seam: ClassVar[Seam] = "rig"

    def alter(self, built: Built) -> Built:
        """Return the specimen with the weak string."""
        return weakened(built, self.strength_left)


def weakened(built: Built, share: float) -> Built:
    """Return a specimen whose string has a share of its breaking tension left."""
    string = built.chain.string
    return built._replace(chain=built.chain.restrung(replace(string, breaking_n=string.breaking_n * share)))
