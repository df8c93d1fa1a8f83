"""From the motor's shaft to the string: quasi-static operators in order, and the load that they put on the shaft.

Coupler: ``knob = play(knob, shaft + grip, slop/2)``. Gear: the post follows ``knob / ratio`` with backlash, held on one
flank by the string. Winding: tension in proportion to the post's angle since slack; with friction at nut and saddle it
is first the segment behind the nut that takes the winding up.
"""

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from models.head.gear import Head
from models.head.nut import Friction, Tensions, relaxed, reversal_m, room_m, slip_ratio, wind
from models.head.play import play, preloaded_play
from models.messages import Load
from models.strings.drift import Drift
from models.strings.tension import Strung

TOUCHING_DEG: Final = 1e-9  # gaps below this count as contact
NEARLY: Final = 1.0 - 1e-12  # share of the breaking tension that counts as it
DEG: Final = math.pi / 180.0


class Angles(NamedTuple):
    """Where the drive train stands, in degrees of each part, and the tension of each segment of the string."""

    shaft_deg: float
    grip_deg: float
    """Offset between shaft and knob at which the coupler was put on."""
    knob_deg: float
    post_deg: float
    """Post angle since the string was just slack."""
    behind_n: float
    """Tension between nut and post; below 0 by as much as the winding is slack."""
    speaking_n: float
    """Tension between nut and saddle; the same."""
    after_n: float
    """Tension behind the saddle; the same."""


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
    """Tension per degree of the post, without friction."""
    friction: Friction | None = None
    """At nut and saddle; None where the string slides freely."""
    drift: Drift | None = None
    """What time alone does to the tension; None where it does nothing."""

    def at(self, tension_n: float, shaft_deg: float) -> Angles:
        """Return the drive train at a tension, tightened last: every slop taken up, tensions equal along the string."""
        post = tension_n / self.newton_per_deg
        knob = post * self.ratio
        return Angles(shaft_deg, knob + self.half_slop_deg - shaft_deg, knob, post, tension_n, tension_n, tension_n)

    def broken(self, angles: Angles) -> bool:
        """Return whether some segment has come to its breaking tension."""
        return max(angles.behind_n, angles.speaking_n) >= self.string.breaking_n * NEARLY

    def follow(self, angles: Angles, shaft_deg: float) -> Angles:
        """Return the drive train after the shaft moved to ``shaft_deg`` one way."""
        knob = play(angles.knob_deg, shaft_deg + angles.grip_deg, self.half_slop_deg)
        post = preloaded_play(angles.post_deg, knob / self.ratio, self.backlash_deg, self.slack_below_deg)
        if self.friction is None:
            tension = self.newton_per_deg * post
            return Angles(shaft_deg, angles.grip_deg, knob, post, tension, tension, tension)
        winding_m = (post - angles.post_deg) * self._m_per_deg()
        return Angles(shaft_deg, angles.grip_deg, knob, post, *wind(_tensions(angles), winding_m, self.friction))

    def regripped(self, angles: Angles, shaft_deg: float, uniform: float) -> Angles:
        """Return the drive train after a new grip: the knob held, the slop anywhere (0 to 1)."""
        slop = self.half_slop_deg * (2.0 * uniform - 1.0)
        return angles._replace(shaft_deg=shaft_deg, grip_deg=angles.knob_deg - shaft_deg + slop)

    def drifted_n(self, tension_n: float, seconds: float) -> float:
        """Return what a tension that winding gives has become by creep and temperature."""
        return tension_n if self.drift is None else tension_n + self.drift.newton(tension_n, seconds)

    def pulled(self, angles: Angles, change_n: float) -> Angles:
        """Return the drive train after the body changed the tension all along the string, every gap as it was.

        Angles of the post count from slack: they follow the tension, and knob and grip follow the post.
        """
        tensions = Tensions(angles.behind_n + change_n, angles.speaking_n + change_n, angles.after_n + change_n)
        post = tensions.speaking_n / self.newton_per_deg
        if self.friction is not None:
            post = self.friction.stretch_m(tensions) / self._m_per_deg()
        shift = (post - angles.post_deg) * self.ratio
        return Angles(angles.shaft_deg, angles.grip_deg + shift, angles.knob_deg + shift, post, *tensions)

    def plucked(self, angles: Angles, share: float) -> Angles:
        """Return the drive train after vibration took a share of the difference over nut and saddle away."""
        if self.friction is None:
            return angles
        return Angles(*angles[:4], *relaxed(_tensions(angles), self.friction, share))

    def load(self, angles: Angles, direction: int) -> Load:
        """Return the load on the shaft in ``direction`` (+1 tightening) up to the next event."""
        lag = angles.shaft_deg + angles.grip_deg - angles.knob_deg
        free = self.half_slop_deg - direction * lag
        if free > TOUCHING_DEG:
            return Load(0.0, 0.0, free)
        return self._tightening(angles) if direction > 0 else self._loosening(angles)

    def turning_nm(self, tension_n: float, direction: int) -> float:
        """Return the torque that turns the knob in ``direction`` on against a tension; below 0 = it must be held."""
        share = self.torque_up if direction > 0 else self.torque_down
        return share * tension_n * self.string.winding_radius_m

    def cents_per_knob_deg(self, tension_n: float) -> float:
        """Return the slope of pitch over knob angle at a tension, the string sliding freely."""
        return self.string.cents_per_post_degree(tension_n) / self.ratio

    def slip_cents(self, tension_n: float) -> float:
        """Return the smallest rise of pitch that friction allows at a tension; 0 where nothing sticks."""
        if self.friction is None:
            return 0.0
        return self._cents(tension_n, tension_n * slip_ratio(self.friction))

    def reversal_deg(self, tension_n: float) -> float:
        """Return how far the knob turns after a change of direction before the pitch follows; slop is not in it."""
        if self.friction is None:
            return 0.0
        return reversal_m(self.friction, tension_n) / self._m_per_deg() * self.ratio

    def relaxing_cents(self, tension_n: float, direction: int) -> float:
        """Return how far the pitch moves at most when plucks relax a string that was last turned in ``direction``."""
        if self.friction is None:
            return 0.0
        held = Tensions(tension_n * self.friction.nut_static**direction, tension_n, tension_n)
        return self._cents(tension_n, relaxed(held, self.friction, 1.0).speaking_n)

    def _cents(self, from_n: float, to_n: float) -> float:
        hertz = self.string.first_partial_hz
        return 1200.0 * math.log2(hertz(to_n) / hertz(from_n))

    def _tightening(self, angles: Angles) -> Load:
        gap = angles.post_deg - angles.knob_deg / self.ratio
        if gap > TOUCHING_DEG:
            return Load(0.0, 0.0, gap * self.ratio)
        if angles.post_deg < -TOUCHING_DEG:
            return Load(0.0, 0.0, -angles.post_deg * self.ratio)
        return self._pull(angles, 1, self.torque_up, math.inf)

    def _loosening(self, angles: Angles) -> Load:
        held = angles.post_deg - max(0.0, self.slack_below_deg)
        if held > TOUCHING_DEG:
            load = self._pull(angles, -1, self.torque_down, held)
            return Load(load.torque_nm, -load.slope_nm_per_deg, load.room_deg)
        to_far_flank = self.backlash_deg + angles.knob_deg / self.ratio - angles.post_deg
        return Load(0.0, 0.0, to_far_flank * self.ratio if to_far_flank > TOUCHING_DEG else math.inf)

    def _pull(self, angles: Angles, direction: int, torque_share: float, held_deg: float) -> Load:
        """Return the string's pull over at most ``held_deg`` of the post, up to a slip of the nut or to breaking."""
        newton_per_deg, slips_deg = self._winding(angles, direction)
        room_deg = min(held_deg, slips_deg)
        if direction > 0:
            room_deg = min(room_deg, (self.string.breaking_n - angles.behind_n) / newton_per_deg)
        radius_m = self.string.winding_radius_m
        slope = torque_share * newton_per_deg * radius_m / self.ratio
        return Load(torque_share * max(0.0, angles.behind_n) * radius_m, slope, room_deg * self.ratio)

    def _winding(self, angles: Angles, direction: int) -> tuple[float, float]:
        """Return what a degree of the post adds to the tension behind the nut, and the degrees for which it does.

        While the nut holds, the short segment behind it takes all; while it slips, on average the whole string.
        """
        if self.friction is None:
            return self.newton_per_deg, math.inf
        room_deg = room_m(_tensions(angles), self.friction, direction) / self._m_per_deg()
        if room_deg > TOUCHING_DEG:
            return self.friction.behind_n_m * self._m_per_deg(), room_deg
        return self.newton_per_deg, math.inf

    def _m_per_deg(self) -> float:
        return self.string.winding_radius_m * DEG


def _tensions(angles: Angles) -> Tensions:
    return Tensions(angles.behind_n, angles.speaking_n, angles.after_n)


def chain(
    string: Strung, head: Head, slop_deg: float, friction: Friction | None = None, drift: Drift | None = None
) -> Chain:
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
        friction=friction,
        drift=drift,
    )
