"""A geared tuning head: worm and wheel between knob and post, held by the string's pull."""

import math
from typing import Annotated, Literal

from pydantic import Field

from models.component import NonNegative, component
from models.head.base import Mechanism
from models.head.worm import efficiency_back, efficiency_up, torque_share


@component
class Head:
    """A geared tuning head.

    Law: ``post = knob / ratio``; torque at the knob ``T r / (N eta)`` tightening, ``T r / N * tan(phi - lambda) /
    tan(lambda)`` loosening, with lead angle ``lambda``, friction angle ``phi = atan(mu)`` and ``eta = tan(lambda) /
    tan(lambda + phi)``; it locks when ``lambda < phi``. Backlash shows only where the string pulls less than the post's
    friction.

    Fails when: the worm is marginal and the machine shakes it loose, or worn teeth make the ratio uneven.

    Source: worm efficiency after Shigley, Mechanical Engineering Design (worm gears), flank angle neglected.
    """

    ratio: Annotated[float, Field(ge=1, le=60)]
    """Knob turns for one turn of the post. Printed on the head, or count."""

    post_radius_mm: Annotated[float, Field(gt=0.5, lt=20)]
    """Radius of the post where the string winds. Measure its diameter and halve it."""

    lead_angle_deg: Annotated[float, Field(gt=0.5, lt=45)]
    """Lead angle of the worm. Rarely published; from the pitch and diameter of the worm."""

    worm_friction: Annotated[float, Field(gt=0.01, lt=0.6)]
    """Friction coefficient of worm on wheel. Greased about 0.1, dry about 0.2."""

    backlash_deg: Annotated[float, Field(ge=0, le=10)]
    """Free turn of the post between the two flanks. Slacken the string and wiggle the knob."""

    post_friction_nmm: NonNegative
    """Torque that friction at the post holds against the string. Small beside the string's pull at pitch."""

    tightens: Literal["clockwise", "anticlockwise", "unknown"]
    """Which way the knob tightens, seen from the knob's end. Try it; "unknown" is allowed and said in results."""

    def efficiency_up(self) -> float:
        """Return the efficiency of the worm when tightening."""
        return efficiency_up(self.lead_angle_deg, self.worm_friction)

    def efficiency_back(self) -> float:
        """Return the efficiency when the string drives the worm; negative = self-locking."""
        return efficiency_back(self.lead_angle_deg, self.worm_friction)

    def self_locking(self) -> bool:
        """Return whether the string cannot turn the knob."""
        return self.efficiency_back() < 0

    def knob_torque_per_nm(self, direction: int) -> float:
        """Return the torque that resists the knob per torque of the string at the post.

        ``direction`` is +1 tightening, -1 loosening. Negative when the string helps to loosen.
        """
        return torque_share(self.lead_angle_deg, self.worm_friction, direction) / self.ratio

    def winding_radius_mm(self, gauge_mm: float) -> float:
        """Return the post's radius and half the string's gauge."""
        return self.post_radius_mm + gauge_mm / 2.0

    def mechanism(self) -> Mechanism:
        """Return worm, wheel and post."""
        up, down = self.knob_torque_per_nm(1), self.knob_torque_per_nm(-1)
        return Mechanism(self.ratio, up, down, self.backlash_deg, self.post_friction_nmm * 1e-3)

    def travel_deg(self) -> float:
        """Return infinity."""
        return math.inf

    def wall_force_n(self) -> float:
        """Return 0: it is screwed on."""
        return 0.0

    def pulls_behind_saddle(self) -> bool:
        """Return that it does not."""
        return False
