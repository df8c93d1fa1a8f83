"""A positional hobby servo: goes to the angle that a pulse asks for, within its travel."""

import math
from typing import Annotated, ClassVar, Final

from pydantic import Field, model_validator

from models.component import NonNegative, Positive, component
from models.head.play import play
from models.messages import Ending, Load, Motion, Piece, Source, Spin, Stop, Turn
from models.motors.base import LoadLine, Shaft, halted, moved, rounded, seconds_to_turn

STALL_SHARE: Final = 0.999  # share of the way to the stall angle that counts as stalled: the approach is exponential


@component
class PositionalServo:
    """A positional hobby servo.

    Law: the pulse is rounded to its step and passes a play of the pulse deadband; the shaft runs at ``speed = w0 (1
    - torque / stall)``, ``w0`` and ``stall`` in proportion to the terminal voltage, and stops short of the asked angle
    by ``band * torque / stall``. A wait of half a pulse frame precedes each move.

    Fails when: a pulse change is below the deadband, the travel is used up, or the load exceeds the stall torque;
    power-up jump, jitter and output slop are not in here.

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

    @model_validator(mode="after")
    def _draws_most_at_stall(self) -> "PositionalServo":
        if self.run_current_a > self.stall_current_a:
            raise ValueError("run_current_a lies above stall_current_a; a motor draws most at stall")
        return self

    def rest(self) -> Shaft:
        """Return the state at mid-travel, where the horn is usually put on."""
        return halted(self._on_step(self.travel_deg / 2.0))

    def lead_s(self) -> float:
        """Return half a pulse frame: the mean wait until the next pulse carries the command."""
        return self.frame_ms * 5e-4

    def aim(self, command: Turn | Spin | Stop, shaft: Shaft) -> Shaft:
        """Return the state after the driver sent the pulse for its believed angle, cut at the ends of travel."""
        if not isinstance(command, Turn):
            return halted(shaft.angle_deg)
        wanted = shaft.asked_deg + command.angle_deg
        asked = min(max(wanted, 0.0), self.stroke_deg())
        deg_per_us = self.travel_deg / self.pulse_span_us
        pulse_deg = rounded(asked, self.pulse_step_us * deg_per_us)
        held = play(shaft.held_deg, pulse_deg, self.pulse_deadband_us * deg_per_us / 2.0)
        return Shaft(shaft.angle_deg, asked, held, wanted - asked)

    def plan(self, command: Turn | Spin | Stop, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return one stretch of speed that falls with the load, to the held angle less the droop."""
        way = abs(shaft.held_deg - shaft.angle_deg)
        direction = 1 if shaft.held_deg > shaft.angle_deg else -1
        ending: Ending = "travel end" if shaft.left_deg else "reached"
        if way == 0.0:
            return Motion((), ending)
        ahead, stall = load(direction), self.stall_torque_nm(source)
        if stall <= ahead.torque_nm:
            return Motion((), "stalled")
        droop = self.droop_band_deg / stall
        goal = (way - droop * ahead.torque_nm) / (1.0 + droop * ahead.slope_nm_per_deg)
        limit = self._stall_way(ahead, stall)
        turned = min(goal, limit, ahead.room_deg)
        if turned <= 0.0:
            return Motion((), ending)
        piece = self._piece(shaft.angle_deg, direction, turned, ahead, stall, source)
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
        return halted(0.0 if direction > 0 else self.stroke_deg())

    def stroke_deg(self) -> float:
        """Return the travel, as far as pulses can ask for it."""
        return self._on_step(self.travel_deg)

    def stall_torque_nm(self, source: Source) -> float:
        """Return the torque at which the shaft stops on this supply, whose voltage sags with the current."""
        rise = source.resistance_ohm * self._current_per_nm() / self.reference_v
        return self._voltage_share(source) / (1.0 / self.stall_torque_ref_nm + rise)

    def speed_deg_s(self, torque_nm: float, source: Source) -> float:
        """Return the speed against a torque: a straight line from no-load speed to 0 at stall."""
        stall = self.stall_torque_nm(source)
        if torque_nm >= stall:
            return 0.0
        return self.speed_ref_deg_s * self._voltage_share(source) * (1.0 - torque_nm / stall)

    def _on_step(self, angle: float) -> float:
        """Return the largest angle up to ``angle`` that a pulse can ask for."""
        step = self.pulse_step_us * self.travel_deg / self.pulse_span_us
        return step * math.floor(angle / step + 1e-9) if step else angle

    def _piece(self, start: float, direction: int, turned: float, ahead: Load, stall: float, source: Source) -> Piece:
        slope = self.speed_ref_deg_s * self._voltage_share(source) / stall
        speed = slope * (stall - ahead.torque_nm)
        rate = slope * ahead.slope_nm_per_deg
        seconds = seconds_to_turn(speed, rate, turned)
        rise = self._current_per_nm()
        return Piece(seconds, start, direction * speed, rate, ahead, self.run_current_a, rise, source)

    def _stall_way(self, ahead: Load, stall: float) -> float:
        if ahead.slope_nm_per_deg <= 0.0 or ahead.torque_nm + ahead.slope_nm_per_deg * ahead.room_deg <= stall:
            return math.inf
        return STALL_SHARE * (stall - ahead.torque_nm) / ahead.slope_nm_per_deg

    def _current_per_nm(self) -> float:
        return (self.stall_current_a - self.run_current_a) / self.stall_torque_ref_nm

    def _voltage_share(self, source: Source) -> float:
        return max(0.0, source.voltage_v - source.resistance_ohm * self.run_current_a) / self.reference_v
