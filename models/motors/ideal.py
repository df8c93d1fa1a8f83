"""The ideal motor: the reference for theory."""

import math
from typing import Annotated, ClassVar

from pydantic import Field

from models.component import NonNegative, component
from models.coupler import WALL_NM
from models.messages import Motion, Piece, Source, Spin, Stop, Turn
from models.motors.base import LoadLine, Rotary, Shaft, Step, halted, moved, rounded


@component
class IdealMotor(Rotary):
    """A motor that turns at a set speed whatever the load, round and round, to the nearest multiple of its step.

    Law: ``angle(t) = start +- speed t``, ending at ``step * round(asked / step)``.

    Fails when: never, but at the stop of a knob; that is why no real machine should be judged with it.

    Source: definition.
    """

    accepts: ClassVar[frozenset[type]] = frozenset({Turn, Spin})

    speed_limit_deg_s: Annotated[float, Field(gt=0, le=1e7)]
    """Speed of a turn, and the highest speed of a spin."""

    resolution_deg: NonNegative
    """Step of positions; 0 = none. Sets the smallest change of pitch."""

    def aim(self, command: Turn | Spin | Stop, shaft: Shaft) -> Shaft:
        """Return the state with the new position asked for; a turn replaces one in progress."""
        if not isinstance(command, Turn):
            return halted(shaft.angle_deg)
        asked = rounded(shaft.asked_deg + command.angle_deg, self.resolution_deg)
        return Shaft(shaft.angle_deg, asked, asked)

    def plan(self, command: Turn | Spin | Stop, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return one piece of constant speed."""
        if isinstance(command, Spin):
            way, speed = math.inf, max(-self.speed_limit_deg_s, min(self.speed_limit_deg_s, command.speed_deg_s))
        else:
            way = abs(shaft.held_deg - shaft.angle_deg)
            speed = math.copysign(self.speed_limit_deg_s, shaft.held_deg - shaft.angle_deg)
        if speed == 0.0 or way == 0.0:
            return Motion((), "reached")
        ahead = load(1 if speed > 0 else -1)
        if ahead.torque_nm >= WALL_NM:
            return Motion((), "stalled")
        turned = min(way, ahead.room_deg)
        piece = Piece(turned / abs(speed), shaft.angle_deg, speed, 0.0, ahead, 0.0, 0.0, source)
        return Motion((piece,), "reached" if turned == way else "next event")

    def after(self, shaft: Shaft, piece: Piece, seconds: float) -> Shaft:
        """Return the state with the shaft moved on."""
        return moved(shaft, piece, seconds)

    def holding_nm(self, source: Source) -> float:
        """Return infinity."""
        del source
        return math.inf

    def slop_deg(self) -> float:
        """Return 0."""
        return 0.0

    def stall_torque_nm(self, source: Source) -> float:
        """Return infinity."""
        del source
        return math.inf

    def starting_torque_nm(self, source: Source) -> float:
        """Return infinity."""
        return self.stall_torque_nm(source)

    def speed_deg_s(self, torque_nm: float, source: Source) -> float:
        """Return the set speed."""
        del torque_nm, source
        return self.speed_limit_deg_s

    def least_step_deg(self, torque_nm: float, source: Source) -> Step:
        """Return the step of positions."""
        del torque_nm, source
        return Step(self.resolution_deg, "motor's step")

    def rest_current_a(self, source: Source) -> float:
        """Return 0."""
        del source
        return 0.0
