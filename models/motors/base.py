"""The contract of motors, and pieces of motion in closed form.

A motor's parameters are frozen; its state is a message of its own. ``plan`` says how a command would be carried out;
nothing moves by planning. The shaft meets a load that is a straight line in the angle, up to the next event of the
drive train; there the plan ends with *next event* and the plant plans on with what is left.
"""

import math
from collections.abc import Callable
from typing import ClassVar, NamedTuple, Protocol, Self

from models.messages import Load, Motion, Piece, Source, Spin, Stop, Turn

LoadLine = Callable[[int], Load]
"""Load in one direction: +1 tightening, -1 loosening."""


class Shaft(NamedTuple):
    """State of a motor, in degrees."""

    angle_deg: float
    """Where the shaft is."""
    asked_deg: float
    """Position that the driver believes it asked for."""
    held_deg: float
    """Position that the motor goes for, after steps and deadband."""
    left_deg: float = 0.0
    """What the travel does not allow of the command."""
    speed_deg_s: float = 0.0
    """How fast the shaft turns; 0 for motors that start and stop at once."""
    drive_s: float = 0.0
    """For how long a timed command is still to be driven."""


class Step(NamedTuple):
    """The smallest step of a shaft, and what sets it in a word or two."""

    angle_deg: float
    """0 = no smallest one."""
    set_by: str


def halted(angle: float) -> Shaft:
    """Return the state of a motor stopped where it is."""
    return Shaft(angle, angle, angle)


def moved(shaft: Shaft, piece: Piece, seconds: float) -> Shaft:
    """Return the state of a motor without inertia or clock after so much of a piece."""
    return shaft._replace(angle_deg=angle_deg(piece, seconds))


class Motor(Protocol):
    """What every motor offers."""

    accepts: ClassVar[frozenset[type]]
    """Commands that it can follow, of ``Turn`` and ``Spin``."""

    def rest(self) -> Shaft:
        """Return the state before the first command, coupler just gripped."""
        ...

    def lead_s(self) -> float:
        """Return the time from a command to the start of its motion."""
        ...

    def aim(self, command: Turn | Spin | Stop, shaft: Shaft) -> Shaft:
        """Return the state after the driver took the command, nothing moved yet; every motor takes a stop."""
        ...

    def plan(self, command: Turn | Spin | Stop, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return the motion from ``shaft`` under the command that was aimed, up to the load's next event."""
        ...

    def after(self, shaft: Shaft, piece: Piece, seconds: float) -> Shaft:
        """Return the state after so much of a piece that was planned from ``shaft``."""
        ...

    def holding_nm(self, source: Source) -> float:
        """Return the torque that the resting shaft holds without turning."""
        ...

    def regripped(self, direction: int) -> Shaft:
        """Return the state after a hand took the coupler off and the motor made room to turn in ``direction``."""
        ...

    def unpowered(self) -> "Motor":
        """Return the motor as it comes to rest, and holds, once a switch has cut its power."""
        ...

    def stroke_deg(self) -> float:
        """Return the travel between two grips, infinite for a motor that turns round and round."""
        ...

    def slop_deg(self) -> float:
        """Return the free turn of the output shaft behind the motor's own gear; it adds to the coupler's."""
        ...

    def stall_torque_nm(self, source: Source) -> float:
        """Return the torque at which the shaft stops on this supply."""
        ...

    def starting_torque_nm(self, source: Source) -> float:
        """Return the torque against which the resting shaft begins a turn: at most the stall torque."""
        ...

    def speed_deg_s(self, torque_nm: float, source: Source) -> float:
        """Return the speed against a torque, 0 or more."""
        ...

    def least_step_deg(self, torque_nm: float, source: Source) -> Step:
        """Return the smallest change of the shaft's place that is sure to come, against a torque of 0 or more."""
        ...

    def rest_current_a(self, source: Source) -> float:
        """Return the supply current while the shaft rests; what electronics draw all the time is the unit's."""
        ...


class Rotary:
    """What motors have in common that turn round and round and start at once."""

    __slots__ = ()

    def rest(self) -> Shaft:
        """Return the state at angle 0."""
        return halted(0.0)

    def lead_s(self) -> float:
        """Return 0: a command takes effect at once."""
        return 0.0

    def regripped(self, direction: int) -> Shaft:
        """Return the state at rest; such a motor never needs it."""
        del direction
        return self.rest()

    def unpowered(self) -> Self:
        """Return the same motor: without inertia it stands at once, by friction that holds as under command."""
        return self

    def stroke_deg(self) -> float:
        """Return infinity."""
        return math.inf


def rounded(value: float, step: float) -> float:
    """Return the multiple of ``step`` nearest to ``value``; 0 = no steps."""
    return step * round(value / step) if step else value


def angle_deg(piece: Piece, seconds: float) -> float:
    """Return the shaft angle ``seconds`` after the start of the piece."""
    excess_deg_s = piece.speed_deg_s - piece.final_deg_s
    return piece.start_deg + piece.final_deg_s * seconds + excess_deg_s * travel_s(piece.rate_per_s, seconds)


def speed_deg_s(piece: Piece, seconds: float) -> float:
    """Return the shaft's speed ``seconds`` after the start of the piece."""
    excess_deg_s = piece.speed_deg_s - piece.final_deg_s
    return piece.final_deg_s + excess_deg_s * math.exp(-piece.rate_per_s * seconds)


def travel_s(rate_per_s: float, seconds: float) -> float:
    """Return ``(1 - exp(-rate t)) / rate``, the time-like factor of a speed that falls at ``rate``."""
    return seconds if rate_per_s == 0.0 else -math.expm1(-rate_per_s * seconds) / rate_per_s


def torque_nm(piece: Piece, shaft_deg: float) -> float:
    """Return the load on the shaft when it has come to ``shaft_deg``."""
    return piece.load.torque_nm + piece.load.slope_nm_per_deg * abs(shaft_deg - piece.start_deg)


def current_a(piece: Piece, seconds: float) -> float:
    """Return the supply current: a straight line in torque, and the surge that dies away."""
    line_a = piece.current_a + piece.current_a_per_nm * torque_nm(piece, angle_deg(piece, seconds))
    return line_a + piece.surge_a * math.exp(-piece.rate_per_s * seconds)


def voltage_v(piece: Piece, seconds: float) -> float:
    """Return the terminal voltage: ``V_oc - R I``."""
    return piece.source.voltage_v - piece.source.resistance_ohm * current_a(piece, seconds)


def energy_j(piece: Piece, seconds: float) -> float:
    """Return the energy ``integral of V_oc I dt`` drawn in the first ``seconds`` of the piece."""
    return piece.source.voltage_v * charge_c(piece, seconds)


def charge_c(piece: Piece, seconds: float) -> float:
    """Return the charge ``integral of I dt`` drawn in the first ``seconds`` of the piece."""
    start_a = piece.current_a + piece.current_a_per_nm * piece.load.torque_nm
    rise_a_per_deg = piece.current_a_per_nm * piece.load.slope_nm_per_deg
    sense = math.copysign(1.0, piece.speed_deg_s or piece.final_deg_s)
    excess_deg_s = piece.speed_deg_s - piece.final_deg_s
    turned = piece.final_deg_s * seconds**2 / 2.0 + excess_deg_s * _turned_integral(piece.rate_per_s, seconds)
    return start_a * seconds + rise_a_per_deg * sense * turned + piece.surge_a * travel_s(piece.rate_per_s, seconds)


def _turned_integral(rate_per_s: float, seconds: float) -> float:
    """Return ``integral of travel_s dt``, by its series where the closed form cancels."""
    if abs(rate_per_s * seconds) < 1e-3:
        return seconds**2 * (0.5 - rate_per_s * seconds / 6.0)
    return (seconds - travel_s(rate_per_s, seconds)) / rate_per_s


def seconds_to_turn(speed_deg_s: float, rate_per_s: float, angle: float) -> float:
    """Return the time to turn ``angle`` (0 or more) at a speed (above 0) that falls at ``rate``; inf if never."""
    if rate_per_s == 0.0:
        return angle / speed_deg_s
    share = rate_per_s * angle / speed_deg_s
    return math.inf if share >= 1.0 else -math.log1p(-share) / rate_per_s
