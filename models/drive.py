"""The drive: supply, motor and coupler on one knob. Plans commands into stretches on the string's path."""

import math
from collections.abc import Callable, Mapping
from typing import Final, Literal, NamedTuple, Protocol

from models.coupler import TOUCHING_DEG
from models.drivetrain import Chain
from models.instrument import Instrument
from models.knob import Angles
from models.messages import STOP, Load, Piece, Source, Spin, Stop, Turn
from models.motors.base import Motor, Shaft, charge_c, voltage_v
from models.path import Stretch
from models.units import NANOSECONDS

HORIZON_NS: Final = 10**5 * NANOSECONDS  # no plan reaches further; longer than any run
MOST_STROKES: Final = 1000  # a turn that needs more is a mistake

FREE: Final = Load(0.0, 0.0, math.inf)
BACK_S: Final = 0.2  # in which a string unwinds a head that does not lock (estimate)
MOST_BACK: Final = 8  # events on its way back that are told apart
BROWN_OUT_STEPS: Final = 40  # halvings that find the instant of a brown-out

Grip = Callable[[int], tuple[float, float]]
"""Seconds and slop position (0 to 1) of a grip by its number."""
StrokeEnd = Literal["reached", "stalled", "travel end", "broke", "brown-out"]
How = Literal["rest", "stalled", "travel used up", "broke", "brown-out"]


HOW: Final[Mapping[StrokeEnd, How]] = {
    "reached": "rest", "stalled": "stalled", "travel end": "travel used up", "broke": "broke", "brown-out": "brown-out",
}  # fmt: skip


class DriveEnd(NamedTuple):
    """When the planned motion ends, and how."""

    at_ns: int
    how: How


class Feed(Protocol):
    """A supply, whatever is in it."""

    def source(self, used_c: float) -> Source:
        """Return what a motor sees after so much charge was drawn from it, in coulombs."""


class Machine(NamedTuple):
    """What a drive is made of, as built."""

    motor: Motor
    supply: Feed
    brown_out_v: float
    """Terminal voltage below which motion is cut; 0 = never."""
    regrip: bool
    """Whether a hand may re-grip."""
    sense: int = 1
    """+1 when turning forward tightens, as the machine takes for granted; -1 when it does not know better."""
    unit_a: float = 0.0
    """Current that the unit draws all the time from the same supply."""


class Stand(NamedTuple):
    """Where a drive and its string stand at rest."""

    angles: Angles
    shaft: Shaft
    used_c: float = 0.0
    """Charge drawn from the supply so far, in coulombs."""


class Drive:
    """Carries out commands on one string of an instrument."""

    def __init__(self, instrument: Instrument, string: str, machine: Machine, grip: Grip, begins: Stand) -> None:
        self._instrument, self._string = instrument, string
        self._chain: Chain = instrument.chains[string]
        self._path = instrument.paths[string]
        self._machine, self._motor, self._grip = machine, machine.motor, grip
        self._begins, self._shaft = begins, begins.shaft
        self._source = machine.supply.source(begins.used_c)
        self._lead_ns = round(machine.motor.lead_s() * NANOSECONDS)
        self._angles = self._path.begins
        self._planned_ns = 0  # nothing is planned for later
        self._used_c, self._counted_ns = begins.used_c, 0
        self.regrips_ns: list[int] = []
        self.end = DriveEnd(0, "rest")

    def command(self, command: Turn | Spin, now_ns: int, hand: bool = True) -> DriveEnd:
        """Carry out a command from now on, in place of what was going on; return how its plan ends.

        Without a ``hand`` nobody grips again when the travel is used up.
        """
        command = command if self._machine.sense > 0 else _reversed(command)
        self._cut(now_ns)
        self._source = self._machine.supply.source(self.used_c(now_ns))
        self._shaft = self._motor.aim(command, self._shaft)
        at_ns = now_ns + self._lead_ns
        for _ in range(MOST_STROKES):
            at_ns, ending = self._stroke(command, at_ns)
            if ending != "travel end":
                return self._ended(at_ns, ending)
            if not (hand and self._machine.regrip) or not isinstance(command, Turn):
                break
            at_ns, command = self._next_grip(at_ns)
        return self._ended(at_ns, "travel end")

    def rest(self, now_ns: int) -> None:
        """Take the drive to be at rest from now on, whatever ended its last motion."""
        self.end, self._planned_ns = DriveEnd(now_ns, "rest"), max(now_ns, self._planned_ns)

    def used_c(self, now_ns: int) -> float:
        """Return the charge drawn by motor and unit up to now, all motion over, in coulombs."""
        lasts_ns, turning_ns = now_ns - self._counted_ns, 0
        for each in self._path.since(self._counted_ns):
            self._used_c += each.charge_c
            turning_ns += each.end_ns - each.start_ns
        rest_a = self._motor.rest_current_a(self._source)
        self._used_c += (rest_a * (lasts_ns - turning_ns) + self._machine.unit_a * lasts_ns) / NANOSECONDS
        self._counted_ns = now_ns
        return self._used_c

    def plucked(self, at_ns: int, share: float) -> None:
        """Let vibration take a share of the nut's hold away, once the string is no longer wound."""
        angles = self._chain.plucked(self._angles, share)
        if angles is self._angles or self.end.how == "broke":
            return
        at_ns = max(at_ns, self.end.at_ns)
        still = Piece(0.0, angles.shaft_deg, 0.0, 0.0, FREE, 0.0, 0.0, self._source)
        self._path.add(Stretch(at_ns, at_ns, still, self._angles, angles, self._shaft, 0.0, 0.0))
        self._angles, self._planned_ns = angles, at_ns

    def stands(self) -> Stand:
        """Return where drive and string come to rest when all that is planned is done."""
        return Stand(self._angles, self._shaft, self.used_c(max(self._planned_ns, self._instrument.now_ns)))

    def stop_at(self, past_ns: int, powered: bool = True) -> None:
        """Bring the shaft to rest from an instant on, also one that is over; what came after it did not happen.

        It is told to stop, or left without power.
        """
        self._motor = self._machine.motor if powered else self._machine.motor.unpowered()
        if past_ns < self._planned_ns:
            self._cut(past_ns)
            self._ended(*self._stroke(STOP, past_ns))

    def hold_at(self, past_ns: int) -> None:
        """Let a stop hold the knob from an instant of its motion on; what came after it did not happen."""
        self._cut(past_ns)
        self._angles = self._angles._replace(stop_deg=self._angles.knob_deg)
        self._ended(*self._stroke(STOP, past_ns))

    def stop(self, now_ns: int) -> None:
        """Bring the shaft to rest from now on and forget the rest of the plan."""
        if now_ns < self.end.at_ns:
            self._cut(now_ns)
            self._ended(*self._stroke(STOP, now_ns))

    def _ended(self, at_ns: int, ending: StrokeEnd) -> DriveEnd:
        if ending == "reached":
            at_ns = self._let_go(at_ns)
        self.end = DriveEnd(at_ns, HOW[ending])
        self._planned_ns = at_ns
        return self.end

    def _let_go(self, at_ns: int) -> int:
        """Let what pulls or is wound up turn the resting motor until it holds that; return when it does."""
        if not self._chain.springs_back():
            return at_ns
        for direction in (-1, 1):
            for _ in range(MOST_BACK):
                way_deg = self._back_deg(direction)
                if way_deg <= TOUCHING_DEG:
                    break
                speed = direction * way_deg / BACK_S
                piece = Piece(BACK_S, self._angles.shaft_deg, speed, 0.0, FREE, 0.0, 0.0, self._source)
                at_ns = self._add(piece, at_ns)
                self._shaft = self._motor.aim(STOP, self._shaft)
        return at_ns

    def _back_deg(self, direction: int) -> float:
        """Return how far the shaft is turned in ``direction`` by what drives it, up to the next event."""
        back = self._load(direction)
        beyond_nm = -back.torque_nm - self._motor.holding_nm(self._source)
        if beyond_nm <= 0.0 or back.slope_nm_per_deg <= 0.0:
            return 0.0
        return min(beyond_nm / back.slope_nm_per_deg, back.room_deg)

    def _cut(self, now_ns: int) -> None:
        """Forget what was planned for later than now; the motor is told to stop, and may still be turning."""
        if now_ns >= self._planned_ns:
            return
        self._path.cut(now_ns)
        self.regrips_ns = [at for at in self.regrips_ns if at < now_ns]
        self._instrument.breaks_ns.pop(self._string, None)
        last = self._path.last_before(now_ns)
        if last is None:
            self._angles, shaft = self._begins.angles, self._begins.shaft
        elif now_ns < last.end_ns:
            seconds = (now_ns - last.start_ns) / NANOSECONDS
            ends = self._chain.follow(last.begins, last.shaft_deg(now_ns))
            self._path.replace_last(last._replace(end_ns=now_ns, ends=ends, charge_c=charge_c(last.piece, seconds)))
            self._angles = ends
            shaft = self._motor.after(last.shaft, last.piece, seconds)
        else:
            self._angles = last.ends
            shaft = self._motor.after(last.shaft, last.piece, (last.end_ns - last.start_ns) / NANOSECONDS)
        self._shaft = self._motor.aim(STOP, shaft._replace(angle_deg=self._angles.shaft_deg))
        self.end, self._planned_ns = DriveEnd(now_ns, "rest"), now_ns

    def _stroke(self, command: Turn | Spin | Stop, at_ns: int) -> tuple[int, StrokeEnd]:
        while at_ns < HORIZON_NS:
            motion = self._motor.plan(command, self._shaft, self._load, self._source)
            for piece in motion.pieces:
                lasts_s = self._feeds_s(piece)
                at_ns = self._add(piece._replace(duration_s=lasts_s) if lasts_s < piece.duration_s else piece, at_ns)
                if lasts_s < piece.duration_s:
                    return at_ns, "brown-out"
            if self._chain.broken(self._angles):  # a jump may do it short of the next event
                self._instrument.breaks_ns[self._string] = at_ns
                return at_ns, "broke"
            if motion.ending != "next event":
                return at_ns, motion.ending
        return HORIZON_NS, "reached"

    def _add(self, piece: Piece, at_ns: int) -> int:
        end_ns = at_ns + round(min(piece.duration_s * NANOSECONDS, HORIZON_NS))
        seconds = min(piece.duration_s, HORIZON_NS / NANOSECONDS)
        begins, shaft = self._angles, self._motor.after(self._shaft, piece, seconds)
        ends = self._chain.follow(begins, shaft.angle_deg)
        turned = ends.shaft_deg - begins.shaft_deg
        gain_n = (ends.speaking_n - begins.speaking_n) / turned if turned else 0.0
        self._path.add(Stretch(at_ns, end_ns, piece, begins, ends, self._shaft, gain_n, charge_c(piece, seconds)))
        self._angles, self._shaft = ends, shaft
        return end_ns

    def _feeds_s(self, piece: Piece) -> float:
        """Return for how long the supply feeds both motor and unit: up to the brown-out, or the whole piece."""
        least_v = self._machine.brown_out_v
        last_s = min(piece.duration_s, HORIZON_NS / NANOSECONDS)
        if least_v == 0.0 or min(voltage_v(piece, 0.0), voltage_v(piece, last_s)) >= least_v:
            return piece.duration_s
        if voltage_v(piece, 0.0) < least_v:  # it starts too low: nothing moves
            return 0.0
        low_s, high_s = 0.0, last_s
        for _ in range(BROWN_OUT_STEPS):
            middle_s = (low_s + high_s) / 2.0
            low_s, high_s = (middle_s, high_s) if voltage_v(piece, middle_s) >= least_v else (low_s, middle_s)
        return low_s

    def _next_grip(self, at_ns: int) -> tuple[int, Turn]:
        seconds, position = self._grip(len(self.regrips_ns))
        self.regrips_ns.append(at_ns)
        left = self._shaft.left_deg
        shaft = self._motor.regripped(1 if left > 0 else -1)
        self._angles = self._chain.regripped(self._angles, shaft.angle_deg, position)
        turn = Turn(left)
        self._shaft = self._motor.aim(turn, shaft)
        return at_ns + round(seconds * NANOSECONDS), turn

    def _load(self, direction: int) -> Load:
        return self._chain.load(self._angles, direction)


def _reversed(command: Turn | Spin) -> Turn | Spin:
    return Turn(-command.angle_deg) if isinstance(command, Turn) else Spin(-command.speed_deg_s)
