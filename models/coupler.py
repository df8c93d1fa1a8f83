"""The coupler: grips the knob, is turned by the motor, has slop, gives way, slips, and owns re-gripping."""

import math
from typing import Annotated, Final, NamedTuple

from pydantic import Field

from models.component import component
from models.messages import Load

NO_TORQUE_NM: Final = 1e-12  # torques below this count as none
TOUCHING_DEG: Final = 1e-9  # gaps below this count as contact
WALL_NM: Final = 1e9  # torque that no motor gives: what a stop holds against


@component
class Coupler:
    """A socket or claw on the knob.

    Law: between shaft and knob lie ``slop_deg`` of free turn and a twist of ``compliance_deg_per_nm`` times the torque;
    the knob turns when the torque is what the head asks for. Where that is more than ``slip_torque_nm`` the shaft turns
    on and the knob stays, and nobody is told. A turn beyond the motor's travel is made in strokes: the hand takes the
    coupler off, the motor goes back, the coupler goes on again with a slop position by chance. A pin holds the knob at
    ``stop_deg`` beyond where the machine was put on, however often a hand grips again; behind it the coupler twists,
    slips or makes the motor stall. Loosening stays free.

    Fails when: it wears, so that slop grows and the torque at which it slips falls; or the pin of the stop bends.

    Source: measured by hand on printed parts is common practice; the range of its part says who estimated it.
    """

    slop_deg: Annotated[float, Field(ge=0, le=90)]
    """Free turn between shaft and knob. Hold the knob and wiggle the motor's horn."""

    compliance_deg_per_nm: Annotated[float, Field(ge=0, le=1000)]
    """Twist between shaft and knob for each newton metre; 0 = rigid. Hold the knob, hang a weight on the horn."""

    slip_torque_nm: Annotated[float, Field(ge=0, le=50)]
    """Torque at which it slips on the knob; 0 = never. Hold the motor, turn the knob with a weight on a stick."""

    regrip: bool
    """Whether a hand may take it off and on again when the motor's travel is used up."""

    stop_deg: Annotated[float, Field(ge=0, le=36000)] = 0.0
    """Turn of the knob, tightening, from where the machine was put on to the pin that stops it; 0 = no pin. Try it."""


class Twist(NamedTuple):
    """A coupler as built, with all the slop before it. *Lag* is by how much the shaft is ahead of the knob."""

    half_slop_deg: float
    compliance_deg_per_nm: float = 0.0
    slip_nm: float = math.inf

    def torque_nm(self, lag_deg: float) -> float:
        """Return the torque on the knob at a lag that twists it; a rigid coupler has none to tell."""
        twist_deg = abs(lag_deg) - self.half_slop_deg
        if twist_deg <= 0.0 or self.compliance_deg_per_nm == 0.0:
            return 0.0
        return math.copysign(min(twist_deg / self.compliance_deg_per_nm, self.slip_nm), lag_deg)

    def lag_deg(self, torque_nm: float) -> float:
        """Return the lag at which it gives a torque: on the flank ahead, on the other for one below 0."""
        flank = -self.half_slop_deg if torque_nm < -NO_TORQUE_NM else self.half_slop_deg
        return flank + self.compliance_deg_per_nm * torque_nm

    def twisting(self, lag_deg: float, room_deg: float) -> Load:
        """Return the load while only the coupler gives way, from a lag on, for ``room_deg`` at most."""
        half_deg, soft = self.half_slop_deg, self.compliance_deg_per_nm
        if lag_deg < -half_deg - TOUCHING_DEG:
            return Load(self.torque_nm(lag_deg), 1.0 / soft, min(-half_deg - lag_deg, room_deg))
        if lag_deg < half_deg - TOUCHING_DEG or soft == 0.0:
            return Load(0.0, 0.0, min(half_deg - lag_deg, room_deg))
        return Load(self.torque_nm(lag_deg), 1.0 / soft, room_deg)

    def most_lag_deg(self) -> float:
        """Return the lag at which it slips."""
        return self.half_slop_deg + (self.compliance_deg_per_nm * self.slip_nm if self.slip_nm < math.inf else math.inf)
