"""From the motor's shaft to the string: quasi-static operators in order, and the load that they put on the shaft.

Coupler: ``knob = play(knob, shaft + grip, slop/2)``, and a twist in proportion to torque (``models/coupler.py``). What
lies behind the knob is in ``models/knob.py``.

Behind an elastic or slipping coupler the knob starts when the coupler gives what the head *needs*, and turns until what
was too much is used up. One sum tells, ``knob + compliance * need``, in straight lines between events: the first place
where it has risen enough is where the knob stops, so that a one-way turn ends in the same state however it is split.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

from models.coupler import NO_TORQUE_NM, TOUCHING_DEG, WALL_NM, Twist
from models.head.base import Mechanism
from models.head.nut import Friction, reversal_m, slip_ratio, stiffened
from models.head.play import play
from models.knob import DEG, Angles, Goal, Knob
from models.messages import Load
from models.strings.drift import Drift
from models.strings.tension import Strung

WHOLE: Final = 1e-13  # of a jump: less than this beyond a number of them is rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain(Knob):
    """Coupler, head and string as built."""

    half_slop_deg: float
    twist: Twist | None = None
    """A coupler that gives way or slips; None where it is rigid and never slips."""
    stop_deg: float = math.inf
    """Turn of the knob from where the machine is put on to its stop; infinite without one."""

    def at(self, tension_n: float, shaft_deg: float) -> Angles:
        """Return the drive train at a tension, tightened last: every slop taken up, tensions equal along the string.

        A head that cannot hold so much has slipped back.
        """
        post = tension_n / self.newton_per_deg
        knob = post * self.ratio
        grip = knob + self.half_slop_deg - shaft_deg
        return self.put_on(self.let_go(Angles(shaft_deg, grip, knob, post, tension_n, tension_n, tension_n)))

    def put_on(self, angles: Angles) -> Angles:
        """Return the drive train with the stop's turn counted from where it stands."""
        return angles._replace(stop_deg=angles.knob_deg + self.stop_deg)

    def follow(self, angles: Angles, shaft_deg: float) -> Angles:
        """Return the drive train after the shaft moved to ``shaft_deg`` one way."""
        if self.twist is not None:
            return self._driven(angles, shaft_deg, self.twist)
        knob = play(angles.knob_deg, shaft_deg + angles.grip_deg, self.half_slop_deg)
        return self.turned(angles, shaft_deg, knob)

    def regripped(self, angles: Angles, shaft_deg: float, uniform: float) -> Angles:
        """Return the drive train after a new grip: the head on its own meanwhile, the slop anywhere (0 to 1)."""
        angles = self.let_go(angles)
        slop = self.half_slop_deg * (2.0 * uniform - 1.0)
        return angles._replace(shaft_deg=shaft_deg, grip_deg=angles.knob_deg - shaft_deg + slop)

    def load(self, angles: Angles, direction: int) -> Load:
        """Return the load on the shaft in ``direction`` (+1 tightening) up to the next event.

        Jumps that follow each other are one line, through the torque that each of them needs.
        """
        lag = direction * (angles.shaft_deg + angles.grip_deg - angles.knob_deg)
        if self.twist is not None:
            return self._coupled(angles, direction, lag, self.twist)
        free = self.half_slop_deg - lag
        return Load(0.0, 0.0, free) if free > TOUCHING_DEG else self.needs(angles, direction, False)

    def restrung(self, string: Strung) -> "Chain":
        """Return the same drive train with another string in the same place."""
        stiffer = string.stiffness_n_m / self.string.stiffness_n_m
        return replace(
            self,
            string=string,
            newton_per_deg=self.newton_per_deg * stiffer,
            slack_below_deg=self.slack_below_deg / stiffer,
            friction=None if self.friction is None else stiffened(self.friction, stiffer),
            drift=None if self.drift is None else replace(self.drift, string=string),
        )

    def springs_back(self) -> bool:
        """Return whether knob or coupler can turn a shaft back that nothing holds."""
        return self.twist is not None or self.torque_down < 0.0

    def slip_cents(self, tension_n: float) -> float:
        """Return the smallest rise of pitch that friction allows at a tension; 0 where nothing sticks."""
        jump_n = tension_n * (slip_ratio(self.friction) - 1.0) if self.friction else 0.0
        return self.cents(tension_n, tension_n + max(jump_n, self._jump_deg() * self.newton_per_deg / self.ratio))

    def reversal_deg(self, tension_n: float) -> float:
        """Return how far the shaft turns after a change of direction before the pitch follows; slop is not in it."""
        held_deg = reversal_m(self.friction, tension_n) / self.m_per_deg() * self.ratio if self.friction else 0.0
        return held_deg + self._compliance() * (self.turning_nm(tension_n, 1) + self.turning_nm(tension_n, -1))

    def _compliance(self) -> float:
        return 0.0 if self.twist is None else self.twist.compliance_deg_per_nm

    def _jump_deg(self) -> float:
        """Return how far one jump of the head turns the knob."""
        slope = self.torque_up * self.newton_per_deg * self.string.winding_radius_m / self.ratio
        return self.quantum_nm * self._compliance() / (1.0 + slope * self._compliance())

    def _driven(self, angles: Angles, shaft_deg: float, twist: Twist) -> Angles:
        """Return the drive train after the shaft moved one way, through a coupler that gives way or slips."""
        if shaft_deg == angles.shaft_deg:
            return angles
        sense, at = (1 if shaft_deg > angles.shaft_deg else -1), angles._replace(shaft_deg=shaft_deg)
        while True:
            need_nm = self.needs(at, sense, True).torque_nm
            driven = need_nm < -NO_TORQUE_NM
            left_deg = sense * (shaft_deg + at.grip_deg - at.knob_deg) - twist.lag_deg(need_nm)
            if left_deg > 0.0 and need_nm < twist.slip_nm:
                way = Goal(1.0, twist.compliance_deg_per_nm, 0.0 if driven else twist.slip_nm)
                at = self.slid(at, sense, self._jumps(left_deg, way.per_nm), way)
            if not driven or self.needs(at, sense, True).torque_nm < -NO_TORQUE_NM:
                break
        over_deg = sense * (shaft_deg + at.grip_deg - at.knob_deg) - twist.most_lag_deg()
        return at._replace(grip_deg=at.grip_deg - sense * over_deg) if over_deg > 0.0 else at

    def _jumps(self, left_deg: float, compliance: float) -> float:
        """Return what whole jumps of the head take, to use up at least ``left_deg`` of the shaft's turn."""
        quantum_deg = self.quantum_nm * compliance
        return quantum_deg * math.ceil(left_deg / quantum_deg - WHOLE) if quantum_deg > 0.0 else left_deg

    def _coupled(self, angles: Angles, direction: int, lag: float, twist: Twist) -> Load:
        """Return the load on a shaft that is ahead of the knob by ``lag``, seen in ``direction``."""
        need = self.needs(angles, direction, False)
        to_turn = min(twist.lag_deg(need.torque_nm), twist.most_lag_deg()) - lag
        if to_turn > TOUCHING_DEG:
            return twist.twisting(lag, to_turn)
        need = self.needs(self.at_slip(angles, direction), direction, False)
        if need.torque_nm >= twist.slip_nm - NO_TORQUE_NM:
            return Load(twist.slip_nm, 0.0, math.inf)
        slope, stop_nm = need.slope_nm_per_deg, 0.0 if need.torque_nm < -NO_TORQUE_NM else twist.slip_nm
        room_deg = min(need.room_deg, (stop_nm - need.torque_nm) / slope) if slope > 0.0 else need.room_deg
        per_knob = 1.0 + twist.compliance_deg_per_nm * slope
        return Load(need.torque_nm, slope / per_knob, room_deg * per_knob)


def chain(
    string: Strung,
    head: Mechanism,
    twist: Twist,
    friction: Friction | None = None,
    drift: Drift | None = None,
    stop_deg: float = math.inf,
) -> Chain:
    """Return the drive train of one string."""
    newton_per_deg = string.stiffness_n_m * string.winding_radius_m * DEG
    friction_n = head.post_friction_nm / string.winding_radius_m
    most_nm = head.torque_up * string.breaking_n * string.winding_radius_m + head.static_nm
    most_nm = most_nm if stop_deg == math.inf else WALL_NM
    rigid = twist.compliance_deg_per_nm == 0.0 and twist.slip_nm > most_nm
    return Chain(
        string=string,
        ratio=head.ratio,
        half_slop_deg=twist.half_slop_deg,
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
        twist=None if rigid else twist,
        stop_deg=stop_deg,
    )
