"""A friction peg: a tapered pin in two holes, held by nothing but the force with which it was pushed in."""

import math
from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from models.component import Positive, component
from models.head.base import Mechanism


class Step(NamedTuple):
    """One step of the cycle in which a peg is tuned."""

    name: Literal["loosen", "turn past", "seat", "let go", "listen"]
    turn_deg: float
    seconds: float


@component
class FrictionPeg:
    """A peg of the violin family.

    Law: pushed in by ``F`` the walls press with ``N = F / (sin a + mu cos a)``, ``tan a = 1 / (2 taper)``, and hold the
    torque ``mu N radius``. The peg sticks while the coupler's torque and the string's differ by less than that; then it
    jumps until they differ by ``jump_share (static - kinetic)`` less. Let go, it holds if the string's torque is below
    the static one, else slips back until friction catches it.

    Fails when: it is pushed while it turns (it seats up to ``1 + mu / tan a`` times harder), the string presses it
    sideways into the hole, holes are worn oval, or the wall splits: the force on the walls is told, not judged.

    Source: a peg is a cone clutch engaged at rest (Shigley, Mechanical Engineering Design); jumps are independent
    arithmetic.
    """

    taper: Annotated[float, Field(ge=10, le=60)]
    """Length over which the diameter grows by 1. Violin and viola 30, cello 25."""

    post_radius_mm: Annotated[float, Field(gt=0.5, lt=20)]
    """Half the peg's diameter, at the string's hole; the same is taken for the two holes. Measure it."""

    friction: Annotated[float, Field(gt=0.01, le=1)]
    """Static friction coefficient of peg in its hole. Peg paste and chalk change it."""

    kinetic_share: Annotated[float, Field(gt=0, le=1)]
    """Kinetic over static coefficient; 1 = turns without jumps."""

    axial_n: Positive
    """Force with which the peg was pushed in. Push a kitchen scale as hard as you push the peg."""

    jump_share: Annotated[float, Field(ge=1, le=2)]
    """1 = the jump ends where forces balance (damped), 2 = the parts fly through without loss."""

    tightens: Literal["clockwise", "anticlockwise", "unknown"]
    """Which way the peg tightens, seen from its head. Differs between the two sides of the pegbox."""

    def half_angle_deg(self) -> float:
        """Return the angle between the peg's wall and its axis."""
        return math.degrees(math.atan(0.5 / self.taper))

    def stays_in(self) -> bool:
        """Return whether the peg stays in its holes when nothing pushes it: ``mu > tan a``."""
        return self.friction > math.tan(math.radians(self.half_angle_deg()))

    def wall_force_n(self) -> float:
        """Return the force with which both walls of the pegbox are pressed outwards together."""
        half = math.radians(self.half_angle_deg())
        return self.axial_n / (math.sin(half) + self.friction * math.cos(half))

    def static_nm(self) -> float:
        """Return the torque that friction holds."""
        return self.friction * self.wall_force_n() * self.post_radius_mm * 1e-3

    def winding_radius_mm(self, gauge_mm: float) -> float:
        """Return the peg's radius and half the string's gauge."""
        return self.post_radius_mm + gauge_mm / 2.0

    def mechanism(self) -> Mechanism:
        """Return the peg, as seated: the string's whole torque at the knob, and friction."""
        static_nm = self.static_nm()
        return Mechanism(
            ratio=1.0, torque_up=1.0, torque_down=-1.0, static_nm=static_nm,
            kinetic_nm=self.kinetic_share * static_nm, jump_share=self.jump_share,
        )  # fmt: skip

    def self_locking(self) -> bool:
        """Return that friction catches it, though it may slip back before."""
        return True

    def travel_deg(self) -> float:
        """Return infinity."""
        return math.inf

    def pulls_behind_saddle(self) -> bool:
        """Return that it does not."""
        return False


def cycle(turn_deg: float, loosen_deg: float, past_deg: float, speed_deg_s: float, hand_s: float) -> tuple[Step, ...]:
    """Return the steps that turn a peg by ``turn_deg`` and seat it there.

    It is loosened by ``loosen_deg``, turned ``past_deg`` beyond its goal, and comes back to it while it is pushed in;
    ``hand_s`` is what pushing and letting go take. What the listening takes is the ear's business: 0 here.
    """
    up_deg = loosen_deg + turn_deg + past_deg
    return (
        Step("loosen", -loosen_deg, loosen_deg / speed_deg_s),
        Step("turn past", up_deg, abs(up_deg) / speed_deg_s),
        Step("seat", -past_deg, past_deg / speed_deg_s + hand_s),
        Step("let go", 0.0, hand_s),
        Step("listen", 0.0, 0.0),
    )
