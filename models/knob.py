"""Head and string behind the knob: what a turn of the knob does, and what torque it needs.

Gear: the post follows ``knob / ratio`` with backlash, held on one flank by the string. Winding: tension in proportion
to the post's angle since slack; with friction at nut and saddle it is first the segment behind the nut that takes the
winding up, and that pulls the post.
"""

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from models.coupler import NO_TORQUE_NM, TOUCHING_DEG, WALL_NM
from models.head.nut import Friction, Line, Tensions, line, relaxed, slips_m, wind
from models.head.play import preloaded_play
from models.messages import Load
from models.strings.drift import Drift
from models.strings.tension import SLACK_N, Strung

LEAST_M: Final = 4e-15  # a winding that is sure to set off a slip that is due
DONE: Final = 1e-12  # what is left to turn below this is rounding
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
    stop_deg: float = math.inf
    """Angle of the knob beyond which a stop does not let it turn."""


class Goal(NamedTuple):
    """How a knob comes to rest: once ``per_deg * angle + per_nm * need`` has risen enough, or at a need."""

    per_deg: float
    per_nm: float
    stop_nm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Knob:
    """Head and string as built."""

    string: Strung
    ratio: float
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
    static_nm: float = 0.0
    """Torque at the knob that friction of the head asks for beside the string's pull."""
    quantum_nm: float = 0.0
    """By how much a jump of the head lowers the torque on the knob; 0 = turns without jumps."""
    jump_share: float = 1.0
    """1 = a head that the string turns back stops where torques balance, 2 = it flies through without loss."""

    def broken(self, angles: Angles) -> bool:
        """Return whether some segment has come to its breaking tension."""
        return max(angles.behind_n, angles.speaking_n) >= self.string.breaking_n * NEARLY

    def let_go(self, angles: Angles) -> Angles:
        """Return the drive train after the coupler was taken off: a friction peg too weak for its string slips back.

        It ends where string and kinetic friction balance, or ``jump_share`` times as far; a slack string pulls no
        further. The shaft stays; the grip is moved along with the knob.
        """
        need = self.needs(angles, -1, True)
        if self.static_nm == 0.0 or need.torque_nm >= 0.0:
            return angles
        beyond_nm = self.quantum_nm - self.jump_share * need.torque_nm
        left_nm = min(beyond_nm, self.static_nm - need.torque_nm)
        gone = self.slid(angles, -1, left_nm, Goal(0.0, 1.0, math.inf))
        return gone._replace(grip_deg=angles.grip_deg + gone.knob_deg - angles.knob_deg)

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
            post = self.friction.stretch_m(tensions) / self.m_per_deg()
        shift = (post - angles.post_deg) * self.ratio
        grip_deg, knob_deg, stop_deg = angles.grip_deg + shift, angles.knob_deg + shift, angles.stop_deg + shift
        return Angles(angles.shaft_deg, grip_deg, knob_deg, post, *tensions, stop_deg)

    def plucked(self, angles: Angles, share: float) -> Angles:
        """Return the drive train after vibration took a share of the difference over nut and saddle away."""
        if self.friction is None:
            return angles
        return Angles(*angles[:4], *relaxed(_tensions(angles), self.friction, share), angles.stop_deg)

    def turning_nm(self, tension_n: float, direction: int) -> float:
        """Return the torque that turns the knob in ``direction`` on against a tension; below 0 = it must be held."""
        share = self.torque_up if direction > 0 else self.torque_down
        return share * tension_n * self.string.winding_radius_m + self.static_nm

    def cents_per_knob_deg(self, tension_n: float) -> float:
        """Return the slope of pitch over knob angle at a tension, the string sliding freely."""
        return self.string.cents_per_post_degree(tension_n) / self.ratio

    def relaxing_cents(self, tension_n: float, direction: int) -> float:
        """Return how far the pitch moves at most when plucks relax a string that was last turned in ``direction``."""
        if self.friction is None:
            return 0.0
        held = Tensions(tension_n * self.friction.nut_static**direction, tension_n, tension_n)
        return self.cents(tension_n, relaxed(held, self.friction, 1.0).speaking_n)

    def turned(self, angles: Angles, shaft_deg: float, knob: float) -> Angles:
        """Return the drive train after the knob turned to ``knob`` one way, or up to its stop."""
        knob, stop_deg = min(knob, angles.stop_deg), angles.stop_deg
        post = preloaded_play(angles.post_deg, knob / self.ratio, self.backlash_deg, self.slack_below_deg)
        if self.friction is None:
            tension = self.newton_per_deg * post
            return Angles(shaft_deg, angles.grip_deg, knob, post, tension, tension, tension, stop_deg)
        winding_m = (post - angles.post_deg) * self.m_per_deg()
        tensions = wind(_tensions(angles), winding_m, self.friction)
        return Angles(shaft_deg, angles.grip_deg, knob, post, *tensions, stop_deg)

    def slid(self, at: Angles, sense: int, left: float, way: Goal) -> Angles:
        """Turn the knob until ``way``'s sum of its angle and of what it needs has risen by ``left``."""
        need = self.needs(at, sense, True)
        while left > DONE and need.torque_nm < way.stop_nm - NO_TORQUE_NM:
            turn_deg = self._stride_deg(at, sense, need, left, way)
            if turn_deg == math.inf:  # nothing resists, nothing is used up
                break
            at = self.turned(at, at.shaft_deg, at.knob_deg + sense * turn_deg)
            before, need = need, self.needs(at, sense, True)
            left -= way.per_deg * turn_deg + way.per_nm * (need.torque_nm - before.torque_nm)
        return at

    def _stride_deg(self, at: Angles, sense: int, need: Load, left: float, way: Goal) -> float:
        """Return how far the knob turns along one line, or over slips of the nut up to the last that is sure to come.

        What a slip makes the knob need more, which it does where a worm is turned back, is kept in reserve.
        """
        per_deg, slope = way.per_deg + way.per_nm * need.slope_nm_per_deg, need.slope_nm_per_deg
        room_nm, least_deg = way.stop_nm - need.torque_nm, LEAST_M / self.m_per_deg() * self.ratio
        winding = self._winding(at, sense, True)
        if self.friction is None or need.room_deg > 0.0 or winding.jump_n == 0.0:
            return min(max(need.room_deg, least_deg), _ratio(left, per_deg), _ratio(room_nm, slope))
        share = self.torque_up if sense > 0 else self.torque_down
        more_nm = max(0.0, share * self.string.winding_radius_m * winding.jump_n)
        held_deg = math.inf if sense > 0 else self._held_deg(at) * self.ratio
        sure_deg = min(held_deg, _ratio(left - way.per_nm * more_nm, per_deg), _ratio(room_nm - more_nm, slope))
        sure_m = max(0.0, sure_deg) / self.ratio * self.m_per_deg()
        slips = slips_m(_tensions(at), self.friction, sense, sure_m)
        return max(least_deg, slips / self.m_per_deg() * self.ratio)

    def at_slip(self, angles: Angles, direction: int) -> Angles:
        """Return what a head that turns in jumps has to overcome: the nut about to slip, as it will before long."""
        if self.friction is None or self.quantum_nm == 0.0 or angles.speaking_n <= SLACK_N:
            return angles
        behind_n = self.friction.nut_static**direction * angles.speaking_n
        return angles._replace(behind_n=behind_n) if behind_n < self.string.breaking_n else angles

    def needs(self, angles: Angles, direction: int, every: bool) -> Load:
        """Return what the knob resists in ``direction``, against its own angle.

        Up to the next event: ``every`` one of the nut, or only the first slip of a row, breaking and the stop.
        """
        if direction < 0:
            return self._loosening(angles, every)
        left_deg = angles.stop_deg - angles.knob_deg
        if left_deg <= TOUCHING_DEG:
            return Load(WALL_NM, 0.0, math.inf)
        load = self._tightening(angles, every)
        return load if load.room_deg <= left_deg else load._replace(room_deg=left_deg)

    def _tightening(self, angles: Angles, every: bool) -> Load:
        gap = angles.post_deg - angles.knob_deg / self.ratio
        if gap > TOUCHING_DEG:
            return Load(self.static_nm, 0.0, gap * self.ratio)
        if angles.post_deg < -TOUCHING_DEG:
            return Load(self.static_nm, 0.0, -angles.post_deg * self.ratio)
        return self._pull(angles, 1, every, math.inf)

    def _loosening(self, angles: Angles, every: bool) -> Load:
        held = self._held_deg(angles)
        if held > TOUCHING_DEG:
            load = self._pull(angles, -1, every, held)
            return Load(load.torque_nm, -load.slope_nm_per_deg, load.room_deg)
        to_far_flank = self.backlash_deg + angles.knob_deg / self.ratio - angles.post_deg
        return Load(self.static_nm, 0.0, to_far_flank * self.ratio if to_far_flank > TOUCHING_DEG else math.inf)

    def _held_deg(self, angles: Angles) -> float:
        """Return over which angle of the post the string keeps the head on its flank as it is loosened."""
        return angles.post_deg - max(0.0, self.slack_below_deg)

    def _pull(self, angles: Angles, direction: int, every: bool, held_deg: float) -> Load:
        """Return the string's pull and the head's friction over at most ``held_deg`` of the post."""
        winding = self._winding(angles, direction, every)
        newton_per_deg = winding.newton_per_m * self.m_per_deg()
        room_deg = min(held_deg, winding.room_m / self.m_per_deg())
        if direction > 0 and not every:
            room_deg = min(room_deg, (self.string.breaking_n - angles.behind_n) / newton_per_deg)
        share = self.torque_up if direction > 0 else self.torque_down
        nm_per_n = share * self.string.winding_radius_m
        torque_nm = self.static_nm + nm_per_n * max(0.0, angles.behind_n)
        return Load(torque_nm, nm_per_n * newton_per_deg / self.ratio, room_deg * self.ratio)

    def _winding(self, angles: Angles, direction: int, every: bool) -> Line:
        """Return how the tension behind the nut goes on: while the nut holds, its short segment takes all."""
        if self.friction is None:
            return Line(self.string.stiffness_n_m, math.inf, False)
        found = line(_tensions(angles), self.friction, direction)
        return found if every or found.holds else found._replace(room_m=math.inf)

    def m_per_deg(self) -> float:
        """Return the winding of one degree of the post."""
        return self.string.winding_radius_m * DEG

    def cents(self, from_n: float, to_n: float) -> float:
        """Return how far the pitch moves between two tensions."""
        hertz = self.string.first_partial_hz
        return 1200.0 * math.log2(hertz(to_n) / hertz(from_n))


def _ratio(over: float, under: float) -> float:
    return over / under if under > 0.0 else math.inf


def _tensions(angles: Angles) -> Tensions:
    return Tensions(angles.behind_n, angles.speaking_n, angles.after_n)
