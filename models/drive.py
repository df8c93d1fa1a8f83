"""The drive: supply, motor and coupler on one knob. Plans commands into stretches on the string's path."""

from collections.abc import Callable
from typing import Final, Literal, NamedTuple

from models.drivetrain import Chain
from models.instrument import Instrument
from models.messages import STOP, Load, Piece, Source, Spin, Stop, Turn
from models.motors.base import Motor, Shaft, angle_deg
from models.path import Stretch
from models.units import NANOSECONDS

HORIZON_NS: Final = 10**5 * NANOSECONDS  # no plan reaches further; longer than any run
MOST_STROKES: Final = 1000  # a turn that needs more is a mistake

Grip = Callable[[int], tuple[float, float]]
"""Seconds and slop position (0 to 1) of a grip by its number."""
StrokeEnd = Literal["reached", "stalled", "travel end", "broke"]


class DriveEnd(NamedTuple):
    """When the planned motion ends, and how."""

    at_ns: int
    how: Literal["rest", "stalled", "travel used up", "broke"]


class Drive:
    """Carries out commands on one string of an instrument."""

    def __init__(
        self, instrument: Instrument, string: str, motor: Motor, source: Source, regrip: bool, grip: Grip
    ) -> None:
        self._instrument, self._string = instrument, string
        self._chain: Chain = instrument.chains[string]
        self._path = instrument.paths[string]
        self._motor, self._source, self._regrip, self._grip = motor, source, regrip, grip
        self._shaft: Shaft = motor.rest()
        self._lead_ns = round(motor.lead_s() * NANOSECONDS)
        self._angles = self._path.begins
        self.regrips_ns: list[int] = []
        self.end = DriveEnd(0, "rest")

    def command(self, command: Turn | Spin, now_ns: int) -> DriveEnd:
        """Carry out a command from now on, in place of what was going on; return how its plan ends."""
        self._cut(now_ns)
        self._shaft = self._motor.aim(command, self._shaft)
        at_ns = now_ns + self._lead_ns
        for _ in range(MOST_STROKES):
            at_ns, ending = self._stroke(command, at_ns)
            if ending != "travel end":
                return self._ended(at_ns, ending)
            if not self._regrip or not isinstance(command, Turn):
                break
            at_ns, command = self._next_grip(at_ns)
        self.end = DriveEnd(at_ns, "travel used up")
        return self.end

    def stop(self, now_ns: int) -> None:
        """Bring the shaft to rest from now on and forget the rest of the plan."""
        if now_ns < self.end.at_ns:
            self._cut(now_ns)
            self._ended(*self._stroke(STOP, now_ns))

    def _ended(self, at_ns: int, ending: StrokeEnd) -> DriveEnd:
        how: Literal["rest", "stalled", "broke"] = "stalled" if ending == "stalled" else "rest"
        self.end = DriveEnd(at_ns, "broke" if ending == "broke" else how)
        return self.end

    def _cut(self, now_ns: int) -> None:
        """Forget what was planned for later than now; the motor is told to stop, and may still be turning."""
        if now_ns >= self.end.at_ns:
            return
        self._path.cut(now_ns)
        self.regrips_ns = [at for at in self.regrips_ns if at < now_ns]
        self._instrument.breaks_ns.pop(self._string, None)
        last = self._path.last_before(now_ns)
        shaft = self._shaft
        if last is None:
            self._angles = self._path.begins
        elif now_ns < last.end_ns:
            ends = self._chain.follow(last.begins, last.shaft_deg(now_ns))
            self._path.replace_last(last._replace(end_ns=now_ns, ends=ends))
            self._angles = ends
            shaft = self._motor.after(shaft, last.piece, (now_ns - last.start_ns) / NANOSECONDS)
        else:
            self._angles = last.ends
        self._shaft = self._motor.aim(STOP, shaft._replace(angle_deg=self._angles.shaft_deg))
        self.end = DriveEnd(now_ns, "rest")

    def _stroke(self, command: Turn | Spin | Stop, at_ns: int) -> tuple[int, StrokeEnd]:
        while at_ns < HORIZON_NS:
            motion = self._motor.plan(command, self._shaft, self._load, self._source)
            for piece in motion.pieces:
                at_ns = self._add(piece, at_ns)
            if motion.ending != "next event":
                return at_ns, motion.ending
            if self._angles.post_deg >= self._chain.breaking_deg * (1.0 - 1e-12):
                self._instrument.breaks_ns[self._string] = at_ns
                return at_ns, "broke"
        return HORIZON_NS, "reached"

    def _add(self, piece: Piece, at_ns: int) -> int:
        end_ns = at_ns + round(min(piece.duration_s * NANOSECONDS, HORIZON_NS))
        seconds = min(piece.duration_s, HORIZON_NS / NANOSECONDS)
        begins = self._angles
        ends = self._chain.follow(begins, angle_deg(piece, seconds))
        turned = ends.shaft_deg - begins.shaft_deg
        gain = (ends.post_deg - begins.post_deg) / turned if turned else 0.0
        self._path.add(Stretch(at_ns, end_ns, piece, begins, ends, gain))
        self._angles = ends
        self._shaft = self._motor.after(self._shaft, piece, seconds)
        return end_ns

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
