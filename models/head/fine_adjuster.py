"""A fine adjuster: a screw that presses a lever at the tailpiece, another head for the last cents."""

import math
from typing import Annotated, Literal

from pydantic import Field

from models.component import component
from models.head.base import Mechanism
from models.head.worm import efficiency_back, torque_share


@component
class FineAdjuster:
    """A screw on a lever that pulls the string's end.

    Law: one turn takes up ``screw_pitch_mm / lever_ratio`` of string, as a post of radius ``pitch / (2 pi lever)``
    would in one turn of its own; torque as of a power screw with ``tan(lead) = pitch / (pi diameter)``.

    Fails when: the screw is at its end, or so far in that the lever touches the belly; the lever's ratio changes on the
    way, which is neglected.

    Source: power screw after Shigley, Mechanical Engineering Design; the values of each part say theirs.
    """

    screw_pitch_mm: Annotated[float, Field(gt=0.1, le=2)]
    """Way of the screw in one turn. Count the threads over 5 mm."""

    screw_diameter_mm: Annotated[float, Field(gt=0.5, le=10)]
    """Mean diameter of the thread. Measure it outside and take the pitch's half off."""

    screw_friction: Annotated[float, Field(ge=0, lt=0.6)]
    """Friction coefficient of the thread. Greased about 0.1, dry about 0.2."""

    lever_ratio: Annotated[float, Field(ge=0.5, le=10)]
    """Way of the screw's tip over way of the string's end. Measure the two arms of the lever."""

    travel_turns: Annotated[float, Field(gt=0, le=50)]
    """Turns from one end of the screw to the other. Count them."""

    tightens: Literal["clockwise", "anticlockwise", "unknown"]
    """Which way the knob tightens, seen from the knob's end. Nearly always clockwise; try it."""

    def lead_angle_deg(self) -> float:
        """Return the lead angle of the thread."""
        return math.degrees(math.atan2(self.screw_pitch_mm, math.pi * self.screw_diameter_mm))

    def winding_radius_mm(self, gauge_mm: float) -> float:
        """Return the radius of the post that would take up as much in a turn of its own, whatever the gauge."""
        del gauge_mm
        return self.screw_pitch_mm / (2.0 * math.pi * self.lever_ratio)

    def travel_mm(self) -> float:
        """Return the string that the whole screw takes up."""
        return self.travel_turns * self.screw_pitch_mm / self.lever_ratio

    def self_locking(self) -> bool:
        """Return whether the string cannot turn the screw."""
        return efficiency_back(self.lead_angle_deg(), self.screw_friction) < 0

    def knob_torque_per_nm(self, direction: int) -> float:
        """Return the torque that resists the knob per torque of the string at the equivalent post.

        ``direction`` is +1 tightening, -1 loosening. Negative when the string helps to loosen.
        """
        return torque_share(self.lead_angle_deg(), self.screw_friction, direction)

    def mechanism(self) -> Mechanism:
        """Return the screw as a head without gear; the string's pull keeps it on one flank of its thread."""
        return Mechanism(1.0, self.knob_torque_per_nm(1), self.knob_torque_per_nm(-1))

    def travel_deg(self) -> float:
        """Return the turn of the screw from end to end."""
        return 360.0 * self.travel_turns

    def wall_force_n(self) -> float:
        """Return 0: it sits on the tailpiece."""
        return 0.0

    def pulls_behind_saddle(self) -> bool:
        """Return that it does: it sits on the tailpiece."""
        return True
