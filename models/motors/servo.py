"""A positional hobby servo: goes to the angle that a pulse asks for, within its travel."""

import math
from hashlib import blake2b
from typing import Annotated, ClassVar, Final

from pydantic import Field, model_validator

from models.component import NonNegative, Positive, component
from models.head.play import play
from models.messages import Ending, Load, Motion, Piece, Source, Spin, Stop, Turn
from models.motors.base import LoadLine, Shaft, Step, moved, rounded, seconds_to_turn
from models.motors.torque_line import DataSheet, Line

STALL_SHARE: Final = 0.999  # share of the way to the stall angle that counts as stalled: the approach is exponential


@component
class PositionalServo:
    """A positional hobby servo.

    Law: the firmware makes a pulse of ``asked / believed travel`` of the span, which is rounded to its step, missed by
    the jitter and passes a play of the pulse deadband; the shaft runs at ``speed = w0 (1 - torque / stall)``, ``w0``
    and ``stall`` in proportion to the terminal voltage, and stops short of the asked angle by ``band * torque /
    stall``. A wait of half a pulse frame precedes each move. The jitter of a pulse is a normal number that follows from
    the asked angle: the same pulse misses by the same amount, another one by another. Before its first pulse the shaft
    stands anywhere; if the coupler is on by then, the first command also makes good for that, at full speed.

    Fails when: a pulse change is below the deadband, the travel is used up, or the load exceeds the stall torque. A
    servo that goes on hunting while its pulses jitter is not in here.

    Source: linear torque-speed line of a brushed motor; values of each part from vendors' pages, which disagree.
    """

    accepts: ClassVar[frozenset[type]] = frozenset({Turn})

    travel_deg: Annotated[float, Field(gt=10, le=3600)]
    """Angle between the two ends. From the data sheet; try it, many turn less."""

    pulse_span_us: Annotated[float, Field(ge=100, le=4000)]
    """Change of pulse width over the whole travel. Usually 2000 us for 180 degrees."""

    pulse_step_us: Annotated[float, Field(ge=0, le=100)]
    """Smallest change of pulse width that the controller can make; 0 = none. From the timer: 1 us is common."""

    pulse_deadband_us: Annotated[float, Field(ge=0, le=100)]
    """Change of pulse width that the servo ignores. From the data sheet: 1 to 10 us."""

    speed_ref_deg_s: Annotated[float, Field(gt=10, le=5000)]
    """No-load speed at the reference voltage: 0.1 s for 60 degrees is 600 deg/s."""

    stall_torque_ref_nm: Annotated[float, Field(gt=0.005, le=20)]
    """Stall torque at the reference voltage: 1 kgf cm = 0.0981 N m."""

    reference_v: Annotated[float, Field(gt=1, le=60)]
    """Voltage at which speed and torque are given. Beside them in the data sheet."""

    droop_band_deg: Annotated[float, Field(ge=0, le=30)]
    """Angle short of the asked one at which the motor pushes with its stall torque. Rarely published."""

    run_current_a: NonNegative
    """Current without load while turning. From the data sheet."""

    stall_current_a: Positive
    """Current at stall, at the reference voltage. From the data sheet."""

    frame_ms: Annotated[float, Field(gt=0.5, le=50)]
    """Time between pulses. 20 ms for analogue servos."""

    believed_travel_deg: Annotated[float, Field(ge=0, le=3600)] = 0.0
    """Travel that the firmware turns degrees into pulses with; 0 = the true one. From your program: 180 is common."""

    jitter_us: Annotated[float, Field(ge=0, le=50)] = 0.0
    """Standard deviation of the pulse width; 0 = none. 1 to 5 us where software makes the pulses; measure it."""

    power_up_deg: Annotated[float, Field(ge=-3600, le=3600)] = 0.0
    """Where the shaft stands before the first pulse, from where the driver believes it. Unknown: half the travel."""

    coupled_before_power: bool = False
    """Whether the coupler is on the knob before the first pulse: the knob then makes the power-up jump too."""

    output_slop_deg: Annotated[float, Field(ge=0, le=30)] = 0.0
    """Free turn of the output shaft behind the gear; 0 = none. Hold the motor and wiggle the horn."""

    @model_validator(mode="after")
    def _draws_most_at_stall(self) -> "PositionalServo":
        if self.run_current_a > self.stall_current_a:
            raise ValueError("run_current_a lies above stall_current_a; a motor draws most at stall")
        return self

    def rest(self) -> Shaft:
        """Return the state at mid-travel, where the horn is usually put on, or where the first pulse will find it."""
        middle = self._stands(self._on_step(self.travel_deg / 2.0))
        if not self.coupled_before_power:
            return middle
        return middle._replace(angle_deg=self._within(middle.angle_deg + self.power_up_deg))

    def lead_s(self) -> float:
        """Return half a pulse frame: the mean wait until the next pulse carries the command."""
        return self.frame_ms * 5e-4

    def aim(self, command: Turn | Spin | Stop, shaft: Shaft) -> Shaft:
        """Return the state after the driver sent the pulse for its believed angle, cut at the ends of travel."""
        if not isinstance(command, Turn):
            return self._stands(shaft.angle_deg)
        wanted = shaft.asked_deg + command.angle_deg
        asked = min(max(wanted, 0.0), self.stroke_deg() / self._true_per_believed())
        deg_per_us = self.travel_deg / self.pulse_span_us
        pulse_deg = rounded(asked * self._true_per_believed(), self.pulse_step_us * deg_per_us)
        pulse_deg += self.jitter_us * deg_per_us * _normal(pulse_deg) if self.jitter_us else 0.0
        held = play(shaft.held_deg, pulse_deg, self.pulse_deadband_us * deg_per_us / 2.0)
        return Shaft(shaft.angle_deg, asked, self._within(held), wanted - asked)

    def plan(self, command: Turn | Spin | Stop, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return one stretch of speed that falls with the load, to the held angle less the droop."""
        way = abs(shaft.held_deg - shaft.angle_deg)
        direction = 1 if shaft.held_deg > shaft.angle_deg else -1
        ending: Ending = "travel end" if shaft.left_deg else "reached"
        if way == 0.0:
            return Motion((), ending)
        ahead, line = load(direction), self._line(source)
        stall = line.stall_nm
        if stall <= ahead.torque_nm:
            return Motion((), "stalled")
        droop = self.droop_band_deg / stall
        goal = (way - droop * ahead.torque_nm) / (1.0 + droop * ahead.slope_nm_per_deg)
        limit = self._stall_way(ahead, stall)
        turned = min(goal, limit, ahead.room_deg)
        if turned <= 0.0:
            return Motion((), ending)
        speed = line.speed_deg_s(ahead.torque_nm)
        seconds = seconds_to_turn(speed, line.rate_per_s(ahead), turned)
        piece = line.piece(seconds, shaft.angle_deg, direction * speed, ahead)
        if turned == ahead.room_deg:
            return Motion((piece,), "next event")
        return Motion((piece,), ending if turned == goal else "stalled")

    def after(self, shaft: Shaft, piece: Piece, seconds: float) -> Shaft:
        """Return the state with the shaft moved on."""
        return moved(shaft, piece, seconds)

    def holding_nm(self, source: Source) -> float:
        """Return the stall torque: a powered servo pushes back."""
        return self.stall_torque_nm(source)

    def regripped(self, direction: int) -> Shaft:
        """Return the state at the end of travel that leaves the whole stroke in ``direction``."""
        return self._stands(0.0 if direction > 0 else self.stroke_deg())

    def unpowered(self) -> "PositionalServo":
        """Return the same servo: its gear is taken to stop and hold as its firmware does; data sheets do not say."""
        return self

    def stroke_deg(self) -> float:
        """Return the travel, as far as pulses can ask for it."""
        return self._on_step(self.travel_deg)

    def stall_torque_nm(self, source: Source) -> float:
        """Return the torque at which the shaft stops on this supply, whose voltage sags with the current."""
        return self._line(source).stall_nm

    def speed_deg_s(self, torque_nm: float, source: Source) -> float:
        """Return the speed against a torque: a straight line from no-load speed to 0 at stall."""
        return self._line(source).speed_deg_s(torque_nm)

    def starting_torque_nm(self, source: Source) -> float:
        """Return the stall torque."""
        return self.stall_torque_nm(source)

    def least_step_deg(self, torque_nm: float, source: Source) -> Step:
        """Return the pulse deadband or the pulse step, whichever is wider."""
        del torque_nm, source
        wider_us = max(self.pulse_deadband_us, self.pulse_step_us)
        set_by = "pulse deadband" if self.pulse_deadband_us >= self.pulse_step_us else "pulse step"
        return Step(wider_us * self.travel_deg / self.pulse_span_us, set_by)

    def rest_current_a(self, source: Source) -> float:
        """Return 0: what a servo draws while it holds is not in its data sheet."""
        del source
        return 0.0

    def slop_deg(self) -> float:
        """Return the free turn of the output shaft."""
        return self.output_slop_deg

    def _stands(self, angle: float) -> Shaft:
        """Return the state at rest at a true angle, of which the firmware thinks what its constants say."""
        return Shaft(angle, angle / self._true_per_believed(), angle)

    def _true_per_believed(self) -> float:
        return self.travel_deg / self.believed_travel_deg if self.believed_travel_deg else 1.0

    def _within(self, angle: float) -> float:
        return min(max(angle, 0.0), self.stroke_deg())

    def _on_step(self, angle: float) -> float:
        """Return the largest angle up to ``angle`` that a pulse can ask for."""
        step = self.pulse_step_us * self.travel_deg / self.pulse_span_us
        return step * math.floor(angle / step + 1e-9) if step else angle

    def _stall_way(self, ahead: Load, stall: float) -> float:
        if ahead.slope_nm_per_deg <= 0.0 or ahead.torque_nm + ahead.slope_nm_per_deg * ahead.room_deg <= stall:
            return math.inf
        return STALL_SHARE * (stall - ahead.torque_nm) / ahead.slope_nm_per_deg

    def _line(self, source: Source) -> Line:
        sheet = DataSheet(
            self.speed_ref_deg_s, self.stall_torque_ref_nm, self.run_current_a, self.stall_current_a, self.reference_v
        )
        return sheet.on(source)


def _normal(angle: float) -> float:
    """Return a standard normal number that follows from an angle, to a millionth of a degree (Box and Muller 1958)."""
    digest = blake2b(b"%d" % round(angle * 1e6), digest_size=8).digest()
    radius, turn = (int.from_bytes(half) / 2.0**32 for half in (digest[:4], digest[4:]))
    return math.sqrt(-2.0 * math.log1p(-radius)) * math.cos(math.tau * turn)
