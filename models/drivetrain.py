"""From the motor's shaft to the post: quasi-static operators in order, and the load that they put on the shaft.

Coupler: ``knob = play(knob, shaft + grip, slop/2)``. Gear: the post follows ``knob / ratio`` with backlash, held on one
flank by the string. String: tension in proportion to the post's angle since slack.
"""

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from models.head.gear import Head
from models.head.play import play, preloaded_play
from models.messages import Load
from models.strings.tension import Strung

TOUCHING_DEG: Final = 1e-9  # gaps below this count as contact
DEG: Final = math.pi / 180.0


class Angles(NamedTuple):
    """Where the drive train stands, in degrees of each part."""

    shaft_deg: float
    grip_deg: float
    """Offset between shaft and knob at which the coupler was put on."""
    knob_deg: float
    post_deg: float
    """Post angle since the string was just slack."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Coupler, head and string as built."""

    string: Strung
    ratio: float
    half_slop_deg: float
    backlash_deg: float
    torque_up: float
    """Torque at the knob per torque at the post, tightening."""
    torque_down: float
    """The same loosening; negative when the string drives the knob."""
    slack_below_deg: float
    """Post angle below which the post's friction is stronger than the string."""
    newton_per_deg: float
    """Tension per degree of the post."""
    breaking_deg: float
    """Post angle at which the string breaks."""

    def tension_n(self, post_deg: float) -> float:
        """Return the string's tension."""
        return max(0.0, self.newton_per_deg * post_deg)

    def post_deg(self, tension_n: float) -> float:
        """Return the post angle of a tension (0 or more)."""
        return tension_n / self.newton_per_deg

    def at(self, tension_n: float, shaft_deg: float) -> Angles:
        """Return the drive train at a tension, tightened last: every slop taken up."""
        post = self.post_deg(tension_n)
        knob = post * self.ratio
        return Angles(shaft_deg, knob + self.half_slop_deg - shaft_deg, knob, post)

    def follow(self, angles: Angles, shaft_deg: float) -> Angles:
        """Return the drive train after the shaft moved to ``shaft_deg`` one way."""
        knob = play(angles.knob_deg, shaft_deg + angles.grip_deg, self.half_slop_deg)
        post = preloaded_play(angles.post_deg, knob / self.ratio, self.backlash_deg, self.slack_below_deg)
        return Angles(shaft_deg, angles.grip_deg, knob, post)

    def regripped(self, angles: Angles, shaft_deg: float, uniform: float) -> Angles:
        """Return the drive train after a new grip: the knob held, the slop anywhere (0 to 1)."""
        slop = self.half_slop_deg * (2.0 * uniform - 1.0)
        return Angles(shaft_deg, angles.knob_deg - shaft_deg + slop, angles.knob_deg, angles.post_deg)

    def load(self, angles: Angles, direction: int) -> Load:
        """Return the load on the shaft in ``direction`` (+1 tightening) up to the next event."""
        lag = angles.shaft_deg + angles.grip_deg - angles.knob_deg
        free = self.half_slop_deg - direction * lag
        if free > TOUCHING_DEG:
            return Load(0.0, 0.0, free)
        return self._tightening(angles) if direction > 0 else self._loosening(angles)

    def _tightening(self, angles: Angles) -> Load:
        gap = angles.post_deg - angles.knob_deg / self.ratio
        if gap > TOUCHING_DEG:
            return Load(0.0, 0.0, gap * self.ratio)
        if angles.post_deg < -TOUCHING_DEG:
            return Load(0.0, 0.0, -angles.post_deg * self.ratio)
        return self._pull(angles, self.torque_up, (self.breaking_deg - angles.post_deg) * self.ratio)

    def _loosening(self, angles: Angles) -> Load:
        held = angles.post_deg - max(0.0, self.slack_below_deg)
        if held > TOUCHING_DEG:
            load = self._pull(angles, self.torque_down, held * self.ratio)
            return Load(load.torque_nm, -load.slope_nm_per_deg, load.room_deg)
        to_far_flank = self.backlash_deg + angles.knob_deg / self.ratio - angles.post_deg
        return Load(0.0, 0.0, to_far_flank * self.ratio if to_far_flank > TOUCHING_DEG else math.inf)

    def _pull(self, angles: Angles, torque_share: float, room_deg: float) -> Load:
        radius = self.string.winding_radius_m
        slope = torque_share * self.newton_per_deg * radius / self.ratio
        return Load(torque_share * self.tension_n(angles.post_deg) * radius, slope, room_deg)


def chain(string: Strung, head: Head, slop_deg: float) -> Chain:
    """Return the drive train of one string behind a coupler of total slop ``slop_deg``."""
    newton_per_deg = string.stiffness_n_m * string.winding_radius_m * DEG
    friction_n = head.post_friction_nmm * 1e-3 / string.winding_radius_m
    return Chain(
        string=string,
        ratio=head.ratio,
        half_slop_deg=slop_deg / 2.0,
        backlash_deg=head.backlash_deg,
        torque_up=head.knob_torque_per_nm(1),
        torque_down=head.knob_torque_per_nm(-1),
        slack_below_deg=friction_n / newton_per_deg,
        newton_per_deg=newton_per_deg,
        breaking_deg=string.breaking_n / newton_per_deg,
    )
