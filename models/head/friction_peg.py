"""A friction peg: a tapered pin in two holes, held by nothing but the force with which it was pushed in.

Rate-independent: a one-way turn of the shaft ends in the same state however it is split.
"""

import math
from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from models.component import Positive, component


class Pull(NamedTuple):
    """Torque of a taut string on the peg: ``torque_nm + nm_per_deg * peg angle``; both 0 for a slack one."""

    torque_nm: float
    nm_per_deg: float

    def at_nm(self, peg_deg: float) -> float:
        """Return the torque at an angle of the peg."""
        return self.torque_nm + self.nm_per_deg * peg_deg


class Hold(NamedTuple):
    """What a peg in its holes does to a turn."""

    static_nm: float
    """Torque that friction holds."""
    kinetic_nm: float
    """Torque of friction while the peg moves."""
    coupling_nm_per_deg: float
    """Stiffness of what turns the peg."""
    jump_share: float


class Step(NamedTuple):
    """One step of the cycle in which a peg is tuned."""

    name: Literal["loosen", "turn past", "seat", "let go", "listen"]
    turn_deg: float
    seconds: float


@component
class FrictionPeg:
    """A peg of the violin family.

    Law: pushed in by ``F`` the walls press with ``N = F / (sin a + mu cos a)``, ``tan a = 1 / (2 taper)``, and hold the
    torque ``mu N radius``. Coupler torque ``kc (shaft - peg)``, string torque ``k r^2 peg``: the peg sticks while they
    differ by less than that; then it jumps by ``jump_share (static - kinetic) / (kc + k r^2)``. Let go, it holds if the
    string's torque is below the static one.

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

    coupling_nm_per_rad: Positive
    """Torque by which what grips the peg gives way by a radian. Hold the peg, hang a weight on the arm."""

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

    def hold(self) -> Hold:
        """Return what this peg, as seated, does to a turn."""
        static_nm = self.friction * self.wall_force_n() * self.post_radius_mm * 1e-3
        coupling = math.radians(self.coupling_nm_per_rad)
        return Hold(static_nm, self.kinetic_share * static_nm, coupling, self.jump_share)


def turn(peg_deg: float, shaft_deg: float, pull: Pull, hold: Hold) -> float:
    """Return the angle of the peg after the shaft came to ``shaft_deg`` one way, the string taut.

    The coupler has no torque where both angles are equal. Slips come one every ``jump_share (static - kinetic) / kc``
    of the shaft.
    """
    net_nm = hold.coupling_nm_per_deg * (shaft_deg - peg_deg) - pull.at_nm(peg_deg)
    beyond_nm = abs(net_nm) - hold.static_nm
    if beyond_nm <= 0.0:
        return peg_deg
    quantum_nm = hold.jump_share * (hold.static_nm - hold.kinetic_nm)
    gone_nm = quantum_nm * math.ceil(beyond_nm / quantum_nm) if quantum_nm > 0.0 else beyond_nm
    return peg_deg + math.copysign(gone_nm, net_nm) / (hold.coupling_nm_per_deg + pull.nm_per_deg)


def holds(peg_deg: float, pull: Pull, hold: Hold) -> bool:
    """Return whether the peg stays where it is when everybody lets go."""
    return pull.at_nm(peg_deg) <= hold.static_nm


def let_go(peg_deg: float, pull: Pull, hold: Hold) -> float:
    """Return where the peg comes to rest after everybody let go: it slips back until friction stops it.

    A peg that slips ends where string and kinetic friction balance, or ``jump_share`` times as far; a string that is
    slack pulls no further.
    """
    if holds(peg_deg, pull, hold):
        return peg_deg
    excess_nm = hold.jump_share * (pull.at_nm(peg_deg) - hold.kinetic_nm)
    return peg_deg - min(excess_nm, pull.at_nm(peg_deg)) / pull.nm_per_deg


def dead_zone_deg(hold: Hold) -> float:
    """Return how far the shaft turns at a reversal before the peg follows: ``2 static / kc``."""
    return 2.0 * hold.static_nm / hold.coupling_nm_per_deg


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
