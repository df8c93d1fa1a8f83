"""From the motor's shaft to the string: quasi-static operators in order, and the load that they put on the shaft.

Coupler: ``knob = play(knob, shaft + grip, slop/2)``, and a twist in proportion to torque (``models/coupler.py``). Head:
the post follows ``knob / ratio`` with backlash, held on one flank by the string; what friction asks beside the string's
pull is overcome in jumps. Winding: tension in proportion to the post's angle since slack; with friction at nut and
saddle it is first the segment behind the nut that takes the winding up, and that pulls the post.

Behind an elastic or slipping coupler the knob starts when the coupler gives what the head *needs*, and turns until what
was too much is used up. One sum tells, ``knob + compliance * need``, in straight lines between events: the first place
where it has risen enough is where the knob stops, so that a one-way turn ends in the same state however it is split.
"""

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from models.coupler import NO_TORQUE_NM, TOUCHING_DEG, Coupling
from models.head.base import Mechanism
from models.head.nut import Friction, Line, Tensions, line, relaxed, reversal_m, slip_ratio, slips_m, wind
from models.head.play import play, preloaded_play
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
    static_nm: float = 0.0
    """Torque at the knob that friction of the head asks for beside the string's pull."""
    quantum_nm: float = 0.0
    """By how much a jump of the head lowers the torque on the knob; 0 = turns without jumps."""
    jump_share: float = 1.0
    """1 = a head that the string turns back stops where torques balance, 2 = it flies through without loss."""
    coupling: Coupling | None = None
    """A coupler that gives way or slips; None where it is rigid and never slips."""

    def at(self, tension_n: float, shaft_deg: float) -> Angles:
        """Return the drive train at a tension, tightened last: every slop taken up, tensions equal along the string.

        A head that cannot hold so much has slipped back.
        """
        post = tension_n / self.newton_per_deg
        knob = post * self.ratio
        grip = knob + self.half_slop_deg - shaft_deg
        return self.let_go(Angles(shaft_deg, grip, knob, post, tension_n, tension_n, tension_n))

    def broken(self, angles: Angles) -> bool:
        """Return whether some segment has come to its breaking tension."""
        return max(angles.behind_n, angles.speaking_n) >= self.string.breaking_n * NEARLY

    def follow(self, angles: Angles, shaft_deg: float) -> Angles:
        """Return the drive train after the shaft moved to ``shaft_deg`` one way."""
        if self.coupling is not None:
            return self._driven(angles, shaft_deg, self.coupling)
        knob = play(angles.knob_deg, shaft_deg + angles.grip_deg, self.half_slop_deg)
        return self._turned(angles, shaft_deg, knob)

    def regripped(self, angles: Angles, shaft_deg: float, uniform: float) -> Angles:
        """Return the drive train after a new grip: the head on its own meanwhile, the slop anywhere (0 to 1)."""
        angles = self.let_go(angles)
        slop = self.half_slop_deg * (2.0 * uniform - 1.0)
        return angles._replace(shaft_deg=shaft_deg, grip_deg=angles.knob_deg - shaft_deg + slop)

    def let_go(self, angles: Angles) -> Angles:
        """Return the drive train after the coupler was taken off: a friction peg too weak for its string slips back.

        It ends where string and kinetic friction balance, or ``jump_share`` times as far; a slack string pulls no
        further. The shaft stays; the grip is moved along with the knob.
        """
        need = self._needs(angles, -1, True)
        if self.static_nm == 0.0 or need.torque_nm >= 0.0:
            return angles
        beyond_nm = self.quantum_nm - self.jump_share * need.torque_nm
        left_nm = min(beyond_nm, self.static_nm - need.torque_nm)
        gone = self._slid(angles, -1, left_nm, _Way(0.0, 1.0, math.inf))
        return gone._replace(grip_deg=angles.grip_deg + gone.knob_deg - angles.knob_deg)

    def plucked(self, angles: Angles, share: float) -> Angles:
        """Return the drive train after vibration took a share of the difference over nut and saddle away."""
        if self.friction is None:
            return angles
        behind, speaking, after = relaxed(_tensions(angles), self.friction, share)
        return angles._replace(behind_n=behind, speaking_n=speaking, after_n=after)

    def load(self, angles: Angles, direction: int) -> Load:
        """Return the load on the shaft in ``direction`` (+1 tightening) up to the next event.

        Jumps that follow each other are one line, through the torque that each of them needs.
        """
        lag = direction * (angles.shaft_deg + angles.grip_deg - angles.knob_deg)
        if self.coupling is not None:
            return self._coupled(angles, direction, lag, self.coupling)
        free = self.half_slop_deg - lag
        return Load(0.0, 0.0, free) if free > TOUCHING_DEG else self._needs(angles, direction, False)

    def springs_back(self) -> bool:
        """Return whether knob or coupler can turn a shaft back that nothing holds."""
        return self.coupling is not None or self.torque_down < 0.0

    def turning_nm(self, tension_n: float, direction: int) -> float:
        """Return the torque that turns the knob in ``direction`` on against a tension; below 0 = it must be held."""
        share = self.torque_up if direction > 0 else self.torque_down
        return share * tension_n * self.string.winding_radius_m + self.static_nm

    def cents_per_knob_deg(self, tension_n: float) -> float:
        """Return the slope of pitch over knob angle at a tension, the string sliding freely."""
        return self.string.cents_per_post_degree(tension_n) / self.ratio

    def slip_cents(self, tension_n: float) -> float:
        """Return the smallest rise of pitch that friction allows at a tension; 0 where nothing sticks."""
        jump_n = tension_n * (slip_ratio(self.friction) - 1.0) if self.friction else 0.0
        return self._cents(tension_n, tension_n + max(jump_n, self._jump_deg() * self.newton_per_deg / self.ratio))

    def reversal_deg(self, tension_n: float) -> float:
        """Return how far the shaft turns after a change of direction before the pitch follows; slop is not in it."""
        held_deg = reversal_m(self.friction, tension_n) / self._m_per_deg() * self.ratio if self.friction else 0.0
        return held_deg + self._compliance() * (self.turning_nm(tension_n, 1) + self.turning_nm(tension_n, -1))

    def relaxing_cents(self, tension_n: float, direction: int) -> float:
        """Return how far the pitch moves at most when plucks relax a string that was last turned in ``direction``."""
        if self.friction is None:
            return 0.0
        held = Tensions(tension_n * self.friction.nut_static**direction, tension_n, tension_n)
        return self._cents(tension_n, relaxed(held, self.friction, 1.0).speaking_n)

    def _cents(self, from_n: float, to_n: float) -> float:
        hertz = self.string.first_partial_hz
        return 1200.0 * math.log2(hertz(to_n) / hertz(from_n))

    def _compliance(self) -> float:
        return 0.0 if self.coupling is None else self.coupling.compliance_deg_per_nm

    def _jump_deg(self) -> float:
        """Return how far one jump of the head turns the knob."""
        slope = self.torque_up * self.newton_per_deg * self.string.winding_radius_m / self.ratio
        return self.quantum_nm * self._compliance() / (1.0 + slope * self._compliance())

    def _turned(self, angles: Angles, shaft_deg: float, knob: float) -> Angles:
        """Return the drive train after the knob turned to ``knob`` one way."""
        post = preloaded_play(angles.post_deg, knob / self.ratio, self.backlash_deg, self.slack_below_deg)
        if self.friction is None:
            tension = self.newton_per_deg * post
            return Angles(shaft_deg, angles.grip_deg, knob, post, tension, tension, tension)
        winding_m = (post - angles.post_deg) * self._m_per_deg()
        return Angles(shaft_deg, angles.grip_deg, knob, post, *wind(_tensions(angles), winding_m, self.friction))

    def _driven(self, angles: Angles, shaft_deg: float, coupling: Coupling) -> Angles:
        """Return the drive train after the shaft moved one way, through a coupler that gives way or slips."""
        if shaft_deg == angles.shaft_deg:
            return angles
        sense, at = (1 if shaft_deg > angles.shaft_deg else -1), angles._replace(shaft_deg=shaft_deg)
        while True:
            need_nm = self._needs(at, sense, True).torque_nm
            driven = need_nm < -NO_TORQUE_NM
            left_deg = sense * (shaft_deg + at.grip_deg - at.knob_deg) - coupling.lag_deg(need_nm)
            if left_deg > 0.0 and need_nm < coupling.slip_nm:
                way = _Way(1.0, coupling.compliance_deg_per_nm, 0.0 if driven else coupling.slip_nm)
                at = self._slid(at, sense, self._jumps(left_deg, way.per_nm), way)
            if not driven or self._needs(at, sense, True).torque_nm < -NO_TORQUE_NM:
                break
        over_deg = sense * (shaft_deg + at.grip_deg - at.knob_deg) - coupling.most_lag_deg()
        return at._replace(grip_deg=at.grip_deg - sense * over_deg) if over_deg > 0.0 else at

    def _jumps(self, left_deg: float, compliance: float) -> float:
        """Return what whole jumps of the head take, to use up at least ``left_deg`` of the shaft's turn."""
        quantum_deg = self.quantum_nm * compliance
        return quantum_deg * math.ceil(left_deg / quantum_deg - DONE) if quantum_deg > 0.0 else left_deg

    def _slid(self, at: Angles, sense: int, left: float, way: "_Way") -> Angles:
        """Turn the knob until ``way``'s sum of its angle and of what it needs has risen by ``left``."""
        need = self._needs(at, sense, True)
        while left > DONE and need.torque_nm < way.stop_nm - NO_TORQUE_NM:
            turn_deg = self._stride_deg(at, sense, need, left, way)
            if turn_deg == math.inf:  # nothing resists, nothing is used up
                break
            at = self._turned(at, at.shaft_deg, at.knob_deg + sense * turn_deg)
            before, need = need, self._needs(at, sense, True)
            left -= way.per_deg * turn_deg + way.per_nm * (need.torque_nm - before.torque_nm)
        return at

    def _stride_deg(self, at: Angles, sense: int, need: Load, left: float, way: "_Way") -> float:
        """Return how far the knob turns along one line, or over slips of the nut up to the last that is sure to come.

        What a slip makes the knob need more, which it does where a worm is turned back, is kept in reserve.
        """
        per_deg, slope = way.per_deg + way.per_nm * need.slope_nm_per_deg, need.slope_nm_per_deg
        room_nm, least_deg = way.stop_nm - need.torque_nm, LEAST_M / self._m_per_deg() * self.ratio
        winding = self._winding(at, sense, True)
        if self.friction is None or need.room_deg > 0.0 or winding.jump_n == 0.0:
            return min(max(need.room_deg, least_deg), _ratio(left, per_deg), _ratio(room_nm, slope))
        share = self.torque_up if sense > 0 else self.torque_down
        more_nm = max(0.0, share * self.string.winding_radius_m * winding.jump_n)
        sure_deg = min(_ratio(left - way.per_nm * more_nm, per_deg), _ratio(room_nm - more_nm, slope))
        sure_m = max(0.0, sure_deg) / self.ratio * self._m_per_deg()
        slips = slips_m(_tensions(at), self.friction, sense, sure_m)
        return max(least_deg, slips / self._m_per_deg() * self.ratio)

    def _coupled(self, angles: Angles, direction: int, lag: float, coupling: Coupling) -> Load:
        """Return the load on a shaft that is ahead of the knob by ``lag``, seen in ``direction``."""
        need = self._needs(angles, direction, False)
        to_turn = min(coupling.lag_deg(need.torque_nm), coupling.most_lag_deg()) - lag
        if to_turn > TOUCHING_DEG:
            return coupling.twisting(lag, to_turn)
        need = self._needs(self._at_slip(angles, direction), direction, False)
        if need.torque_nm >= coupling.slip_nm - NO_TORQUE_NM:
            return Load(coupling.slip_nm, 0.0, math.inf)
        slope, stop_nm = need.slope_nm_per_deg, 0.0 if need.torque_nm < -NO_TORQUE_NM else coupling.slip_nm
        room_deg = min(need.room_deg, (stop_nm - need.torque_nm) / slope) if slope > 0.0 else need.room_deg
        per_knob = 1.0 + coupling.compliance_deg_per_nm * slope
        return Load(need.torque_nm, slope / per_knob, room_deg * per_knob)

    def _at_slip(self, angles: Angles, direction: int) -> Angles:
        """Return what a head that turns in jumps has to overcome: the nut about to slip, as it will before long."""
        if self.friction is None or self.quantum_nm == 0.0 or angles.speaking_n <= SLACK_N:
            return angles
        behind_n = self.friction.nut_static**direction * angles.speaking_n
        return angles._replace(behind_n=behind_n) if behind_n < self.string.breaking_n else angles

    def _needs(self, angles: Angles, direction: int, every: bool) -> Load:
        """Return what the knob resists in ``direction``, against its own angle.

        Up to the next event: ``every`` one of the nut, or only the first slip of a row and breaking.
        """
        return self._tightening(angles, every) if direction > 0 else self._loosening(angles, every)

    def _tightening(self, angles: Angles, every: bool) -> Load:
        gap = angles.post_deg - angles.knob_deg / self.ratio
        if gap > TOUCHING_DEG:
            return Load(self.static_nm, 0.0, gap * self.ratio)
        if angles.post_deg < -TOUCHING_DEG:
            return Load(self.static_nm, 0.0, -angles.post_deg * self.ratio)
        return self._pull(angles, 1, every, math.inf)

    def _loosening(self, angles: Angles, every: bool) -> Load:
        held = angles.post_deg - max(0.0, self.slack_below_deg)
        if held > TOUCHING_DEG:
            load = self._pull(angles, -1, every, held)
            return Load(load.torque_nm, -load.slope_nm_per_deg, load.room_deg)
        to_far_flank = self.backlash_deg + angles.knob_deg / self.ratio - angles.post_deg
        return Load(self.static_nm, 0.0, to_far_flank * self.ratio if to_far_flank > TOUCHING_DEG else math.inf)

    def _pull(self, angles: Angles, direction: int, every: bool, held_deg: float) -> Load:
        """Return the string's pull and the head's friction over at most ``held_deg`` of the post."""
        winding = self._winding(angles, direction, every)
        newton_per_deg = winding.newton_per_m * self._m_per_deg()
        room_deg = min(held_deg, winding.room_m / self._m_per_deg())
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

    def _m_per_deg(self) -> float:
        return self.string.winding_radius_m * DEG


class _Way(NamedTuple):
    """How a knob comes to rest: once ``per_deg * angle + per_nm * need`` has risen enough, or at a need."""

    per_deg: float
    per_nm: float
    stop_nm: float


def _ratio(over: float, under: float) -> float:
    return over / under if under > 0.0 else math.inf


def _tensions(angles: Angles) -> Tensions:
    return Tensions(angles.behind_n, angles.speaking_n, angles.after_n)


def chain(
    string: Strung, head: Mechanism, coupling: Coupling, friction: Friction | None = None, drift: Drift | None = None
) -> Chain:
    """Return the drive train of one string."""
    newton_per_deg = string.stiffness_n_m * string.winding_radius_m * DEG
    friction_n = head.post_friction_nm / string.winding_radius_m
    most_nm = head.torque_up * string.breaking_n * string.winding_radius_m + head.static_nm
    rigid = coupling.compliance_deg_per_nm == 0.0 and coupling.slip_nm > most_nm
    return Chain(
        string=string,
        ratio=head.ratio,
        half_slop_deg=coupling.half_slop_deg,
        backlash_deg=head.backlash_deg,
        torque_up=head.torque_up,
        torque_down=head.torque_down,
        slack_below_deg=friction_n / newton_per_deg,
        newton_per_deg=newton_per_deg,
        friction=friction,
        drift=drift,
        static_nm=head.static_nm,
        quantum_nm=head.quantum_nm(),
        jump_share=head.jump_share,
        coupling=None if rigid else coupling,
    )
