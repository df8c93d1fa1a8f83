"""A continuous-rotation servo: the pulse asks for a speed, the driver counts pulses."""

import math
from typing import Annotated, ClassVar, Final

from pydantic import Field, model_validator

from models.component import NonNegative, Positive, component
from models.messages import Load, Motion, Piece, Source, Spin, Stop, Turn
from models.motors.base import LoadLine, Rotary, Shaft, Step, halted, moved, seconds_to_turn
from models.motors.torque_line import DataSheet, Line

STALL_SHARE: Final = 0.999  # share of the stall torque that counts as stalled: the approach is exponential
SOONEST_S: Final = 1e-9  # less than this is no time: the clock's step


@component
class ContinuousServo(Rotary):
    """A continuous-rotation servo.

    Law: a pulse ``p`` us from the nominal neutral drives with the share ``push = clip((|p - error| - band) /
    (saturation - band), 0, 1)`` of the full voltage; ``speed = w0 max(0, push - torque / stall)``, ``w0`` and ``stall``
    in proportion to the terminal voltage, so that it tightens more slowly than it loosens and a slow crawl stalls. The
    driver makes of a turn a whole number of pulse frames at the speed that it believes, of a spin a pulse in
    proportion. Between moves it sends no pulses: nothing creeps, and only the gear's friction holds.

    Fails when: a turn is less than half a frame, the speed is not what the driver believes, the push of a spin is less
    than the load, or neutral is further off than a slow spin asks for. A driver that goes on sending neutral pulses
    creeps wherever the error of neutral exceeds the band; that is not in here, nor are spin-up and run-out.

    Source: linear torque-speed line of a brushed motor; values of each part from vendors' pages, which disagree.
    """

    accepts: ClassVar[frozenset[type]] = frozenset({Turn, Spin})

    neutral_band_us: Annotated[float, Field(ge=0, le=200)]
    """Offset from neutral, to either side, up to which it stands still. Change the pulse until it starts to turn."""

    neutral_error_us: Annotated[float, Field(ge=-100, le=100)]
    """Where its neutral lies from the nominal one, positive = towards tightening. Drifts with warmth and trimmer."""

    saturation_us: Annotated[float, Field(ge=20, le=1000)]
    """Offset from neutral at which it runs at full speed. Change the pulse until it gets no faster."""

    believed_full_us: Annotated[float, Field(ge=20, le=1000)]
    """Offset that the driver sends for a turn and takes for full speed. Usually 500 us."""

    believed_speed_deg_s: Annotated[float, Field(gt=1, le=5000)]
    """Speed with which the driver reckons at that offset. What your firmware has; time ten turns under load."""

    speed_ref_deg_s: Annotated[float, Field(gt=10, le=5000)]
    """No-load speed at the reference voltage: 100 turns a minute are 600 deg/s."""

    stall_torque_ref_nm: Annotated[float, Field(gt=0.005, le=20)]
    """Stall torque at the reference voltage: 1 kgf cm = 0.0981 N m."""

    reference_v: Annotated[float, Field(gt=1, le=60)]
    """Voltage at which speed and torque are given. Beside them in the data sheet."""

    run_current_a: NonNegative
    """Current without load while turning. From the data sheet."""

    stall_current_a: Positive
    """Current at stall, at the reference voltage. From the data sheet."""

    frame_ms: Annotated[float, Field(gt=0.5, le=50)]
    """Time between pulses. 20 ms for analogue servos."""

    backdrive_nm: NonNegative
    """Torque that turns the shaft while no pulses are sent. Hang a weight on the horn."""

    output_slop_deg: Annotated[float, Field(ge=0, le=30)] = 0.0
    """Free turn of the output shaft behind the gear; 0 = none. Hold the motor and wiggle the horn."""

    @model_validator(mode="after")
    def _can_turn_both_ways(self) -> "ContinuousServo":
        if self.run_current_a > self.stall_current_a:
            raise ValueError("run_current_a lies above stall_current_a; a motor draws most at stall")
        if self.neutral_band_us >= self.saturation_us:
            raise ValueError("neutral_band_us must lie below saturation_us")
        if self.believed_full_us <= self.neutral_band_us + abs(self.neutral_error_us):
            raise ValueError(
                "believed_full_us does not get beyond neutral_band_us and neutral_error_us: no turn starts"
            )
        return self

    def aim(self, command: Turn | Spin | Stop, shaft: Shaft) -> Shaft:
        """Return the state with the frames counted; a new command replaces one in progress, a spin of 0 stops."""
        if isinstance(command, Turn):
            frames = round(abs(command.angle_deg) / self.frame_deg())
            goal = shaft.angle_deg + math.copysign(frames * self.frame_deg(), command.angle_deg)
            return Shaft(shaft.angle_deg, goal, goal, drive_s=frames * self.frame_ms * 1e-3)
        spins = isinstance(command, Spin) and command.speed_deg_s != 0.0
        return halted(shaft.angle_deg)._replace(drive_s=math.inf if spins else 0.0)

    def plan(self, command: Turn | Spin | Stop, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return one stretch of speed that falls with the load, until the time, the room or the torque is used up."""
        offset_us = self._asked_us(command) - self.neutral_error_us
        push = self._push(abs(offset_us))
        if shaft.drive_s < SOONEST_S or push == 0.0:
            return Motion((), "reached")
        direction = 1 if offset_us > 0.0 else -1
        ahead, line = load(direction), self._line(source)
        room_deg = min(ahead.room_deg, _to_stall_deg(ahead, STALL_SHARE * push * line.stall_nm))
        if room_deg <= 0.0:
            return Motion((), "stalled")
        speed = line.speed_deg_s(ahead.torque_nm, push)
        room_s = seconds_to_turn(speed, line.rate_per_s(ahead), room_deg)
        piece = line.piece(min(shaft.drive_s, room_s), shaft.angle_deg, direction * speed, ahead)
        if shaft.drive_s < room_s:
            return Motion((piece,), "reached")
        return Motion((piece,), "next event" if room_deg == ahead.room_deg else "stalled")

    def after(self, shaft: Shaft, piece: Piece, seconds: float) -> Shaft:
        """Return the state with the shaft moved on and less time left to drive."""
        return moved(shaft, piece, seconds)._replace(drive_s=max(0.0, shaft.drive_s - seconds))

    def holding_nm(self, source: Source) -> float:
        """Return what the gear's friction holds: no pulses, no motor."""
        del source
        return self.backdrive_nm

    def stall_torque_nm(self, source: Source) -> float:
        """Return the torque at which the pulse of a turn stops, in the direction in which the pulse is stronger."""
        return self._strongest() * self._line(source).stall_nm

    def speed_deg_s(self, torque_nm: float, source: Source) -> float:
        """Return the speed of a turn against a torque, in the direction in which the pulse is stronger."""
        if torque_nm >= self.stall_torque_nm(source):
            return 0.0
        return self._line(source).speed_deg_s(torque_nm, self._strongest())

    def starting_torque_nm(self, source: Source) -> float:
        """Return the torque at which the pulse of a turn stops."""
        return self.stall_torque_nm(source)

    def least_step_deg(self, torque_nm: float, source: Source) -> Step:
        """Return what one pulse frame at the speed of a turn makes."""
        return Step(self.speed_deg_s(torque_nm, source) * self.frame_ms * 1e-3, "frame time")

    def rest_current_a(self, source: Source) -> float:
        """Return 0: between moves there are no pulses."""
        del source
        return 0.0

    def frame_deg(self) -> float:
        """Return the angle of one frame as the driver believes it: the smallest turn that it can ask for."""
        return self.believed_speed_deg_s * self.frame_ms * 1e-3

    def slop_deg(self) -> float:
        """Return the free turn of the output shaft."""
        return self.output_slop_deg

    def _asked_us(self, command: Turn | Spin | Stop) -> float:
        """Return the pulse that the driver sends, as an offset from the nominal neutral."""
        if isinstance(command, Spin):
            return self.believed_full_us * max(-1.0, min(1.0, command.speed_deg_s / self.believed_speed_deg_s))
        return math.copysign(self.believed_full_us, command.angle_deg) if isinstance(command, Turn) else 0.0

    def _push(self, offset_us: float) -> float:
        """Return the share of the full voltage at an offset from the true neutral."""
        return min(max((offset_us - self.neutral_band_us) / (self.saturation_us - self.neutral_band_us), 0.0), 1.0)

    def _strongest(self) -> float:
        return self._push(self.believed_full_us + abs(self.neutral_error_us))

    def _line(self, source: Source) -> Line:
        sheet = DataSheet(
            self.speed_ref_deg_s, self.stall_torque_ref_nm, self.run_current_a, self.stall_current_a, self.reference_v
        )
        return sheet.on(source)


def _to_stall_deg(ahead: Load, stalls_nm: float) -> float:
    """Return the angle over which the load grows to ``stalls_nm``: 0 or less if it is there, infinite if it falls."""
    left_nm = stalls_nm - ahead.torque_nm
    if left_nm <= 0.0:
        return 0.0
    return left_nm / ahead.slope_nm_per_deg if ahead.slope_nm_per_deg > 0.0 else math.inf
