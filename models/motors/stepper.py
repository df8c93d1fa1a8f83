"""A stepper motor: counts steps, and is not told when its rotor does not follow."""

import math
from dataclasses import replace
from typing import Annotated, ClassVar, Final, Literal

from pydantic import Field

from models.component import Positive, Share, component
from models.messages import Load, Motion, Piece, Source, Spin, Stop, Turn
from models.motors.base import LoadLine, Rotary, Shaft, Step, angle_deg, rounded
from models.motors.rotor import Rotor

PHASES: Final = 2  # windings under current at a time, as data sheets give the holding torque
CYCLE_STEPS: Final = 4  # full steps after which the same windings are under current
SPIN_S: Final = 1e5  # in which a spin is stopped; longer than any run
TOUCHING_DEG: Final = 1e-9  # ways below this count as none
NANOSECOND_S: Final = 1e-9  # driving shorter than this has ended


@component
class Stepper(Rotary):
    """A stepper motor with a gear: its field turns in microsteps, its rotor lags behind and follows, or falls out.

    Law: ``torque = holding sin(p lag)`` with ``p = steps_per_turn / 4`` at the rotor, so the rotor stands ``asin(torque
    / holding) / p`` behind its field, and a microstep adds ``holding sin(90 deg / microsteps)``. At ``f`` full steps a
    second it turns against at most ``holding pull_out_share min(1, corner_hz / f)``, against nothing when started above
    ``pull_in_hz``. Against more it falls out: the field runs on for the whole time, the rotor stands and is caught in
    the end by the nearest field that it fits, whole electrical cycles (4 full steps) away. The controller is not told.
    Torque goes with the current up to the rated one; the gear takes its loss from every torque, from holding too.

    Fails when: the load at the shaft exceeds the pull-out torque (steps are lost), a move is smaller than the lags of
    both directions (nothing turns), the believed ratio is not the true one. Resonance, uneven steps (about 5 % of a
    full step), speed ramps, the load's inertia and mechanical power in the current are not in
    here. Current at rest is that of turning if ``hold``, else 0.

    Source: sine law of static torque and 1/f above the corner are from memory; incremental torque of a microstep is a
    driver maker's published argument; whole cycles lost follow from the period of the field.
    """

    accepts: ClassVar[frozenset[type]] = frozenset({Turn, Spin})

    steps_per_turn: Annotated[int, Field(ge=4, le=1000)]
    """Full steps in one turn of the rotor. From the data sheet: 360 over the step angle; 200 for 1.8 degrees."""

    gear_ratio: Annotated[float, Field(ge=0.1, le=2000)]
    """True turns of the rotor in one of the shaft; 1 = no gear. Multiply the tooth counts, or count steps in a turn."""

    believed_ratio: Annotated[float, Field(ge=0.1, le=2000)]
    """Gear ratio that the firmware computes steps with. From your program: 64 is common for 63.68."""

    gear_efficiency: Annotated[float, Field(gt=0.05, le=1)]
    """Share of the rotor's torque that the gear passes on; 1 = no gear. Rarely published."""

    microsteps: Literal[1, 2, 4, 8, 16, 32, 64, 128, 256]
    """Microsteps in a full step: 1 full, 2 half steps. Set at the driver."""

    step_rate_hz: Annotated[float, Field(ge=1, le=20000)]
    """Full steps a second of a turn, and the most of a spin: microsteps a second over ``microsteps``. Your program."""

    pull_in_hz: Annotated[float, Field(ge=1, le=20000)]
    """Full steps a second up to which the motor starts at once. From the data sheet; less with a heavy load."""

    corner_hz: Annotated[float, Field(ge=1, le=20000)]
    """Full steps a second up to which the pull-out torque is constant. From the data sheet's curve at your voltage."""

    holding_torque_nm: Annotated[float, Field(gt=1e-5, le=50)]
    """Torque at rated current that turns the rotor out of its field, without the gear. From the data sheet."""

    pull_out_share: Annotated[float, Field(gt=0.05, le=1)]
    """Pull-out torque at low step rates over the holding torque. From the data sheet's curve; about 0.7."""

    detent_share: Share
    """Torque that holds the rotor without current over the holding torque. From the data sheet, or try by hand."""

    winding_ohm: Annotated[float, Field(gt=0.05, le=2000)]
    """Resistance of one winding. From the data sheet; an ohm-meter shows it."""

    rated_current_a: Positive
    """Current of one winding for the holding torque. From the data sheet; with a chopper set there."""

    driver: Literal["chopper", "voltage"]
    """A chopper keeps the rated current as long as the supply can; plain switches put the supply on the windings."""

    output_slop_deg: Annotated[float, Field(ge=0, le=30)]
    """Free turn of the output shaft behind the gear; 0 = none. Hold the motor and wiggle the shaft."""

    hold: bool
    """Whether the current stays on at rest. Your program's; without it only the detent torque holds."""

    def aim(self, command: Turn | Spin | Stop, shaft: Shaft) -> Shaft:
        """Return the state with steps to make, at a speed for a time, counted from the field and not from the rotor."""
        true_per_believed = self.believed_ratio / self.gear_ratio
        now = shaft.asked_deg - shaft.speed_deg_s * shaft.drive_s / true_per_believed
        asked, most = now, self._field_deg_s(self.step_rate_hz)
        if isinstance(command, Turn):
            asked = rounded(now + command.angle_deg, self._believed_step_deg())
        elif isinstance(command, Spin):
            most = min(most, abs(command.speed_deg_s))
            asked = now + math.copysign(SPIN_S * most, command.speed_deg_s) / true_per_believed
        if asked == now:
            return Shaft(shaft.angle_deg, now, shaft.held_deg)
        turn = (asked - now) * true_per_believed
        return Shaft(shaft.angle_deg, asked, shaft.held_deg, 0.0, math.copysign(most, turn), abs(turn) / most)

    def plan(self, command: Turn | Spin | Stop, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return how the rotor follows its field; after steps were lost, how it comes to rest is planned anew."""
        del command
        if shaft.drive_s == 0.0:
            return self._settled(shaft, load, source)
        return self._driven(shaft, load(1 if shaft.speed_deg_s > 0.0 else -1), source)

    def after(self, shaft: Shaft, piece: Piece, seconds: float) -> Shaft:
        """Return the state with the field moved on, counted from the cycle that the rotor is in."""
        driven_s = min(seconds, shaft.drive_s)
        left_s = shaft.drive_s - driven_s
        left_s = left_s if left_s > NANOSECOND_S else 0.0
        angle = angle_deg(piece, seconds)
        field = shaft.held_deg + shaft.speed_deg_s * driven_s - angle
        held = angle + self._rotor(piece.source).folded_deg(field)
        return Shaft(angle, shaft.asked_deg, held, 0.0, shaft.speed_deg_s if left_s else 0.0, left_s)

    def holding_nm(self, source: Source) -> float:
        """Return the holding torque of the current that is kept, else the detent torque."""
        if self.hold:
            return self._rotor(source).most_nm
        return self.detent_share * self._at_shaft_nm()

    def unpowered(self) -> "Stepper":
        """Return the motor without current: it stands at once, as the rotor's inertia is not in here, by its detent."""
        return replace(self, hold=False)

    def slop_deg(self) -> float:
        """Return the free turn of the output shaft."""
        return self.output_slop_deg

    def stall_torque_nm(self, source: Source) -> float:
        """Return the torque at which the rotor falls out at the step rate of a turn."""
        return self._pull_out_nm(self._field_deg_s(self.step_rate_hz), source)

    def starting_torque_nm(self, source: Source) -> float:
        """Return the same: a turn begins at its step rate."""
        return self.stall_torque_nm(source)

    def least_step_deg(self, torque_nm: float, source: Source) -> Step:
        """Return a microstep, or the lag that the field must gain first so that its torque overcomes the load."""
        microstep = self._believed_step_deg() * self.believed_ratio / self.gear_ratio
        lag = self._rotor(source).lag_deg(torque_nm)
        return Step(lag, "dead microsteps") if lag > microstep else Step(microstep, "microstep")

    def rest_current_a(self, source: Source) -> float:
        """Return the current of turning if it stays on, else 0."""
        return self._supply_a(source) if self.hold else 0.0

    def speed_deg_s(self, torque_nm: float, source: Source) -> float:
        """Return the speed of a turn, the same against any torque that does not make the rotor fall out."""
        return self._field_deg_s(self.step_rate_hz) if torque_nm < self.stall_torque_nm(source) else 0.0

    def _settled(self, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return the way to rest in a field that stands still, at the fastest speed that it starts with."""
        rotor, ahead_deg = self._rotor(source), shaft.held_deg - shaft.angle_deg
        for direction in (1, -1):
            line = load(direction)
            goal = rotor.way_deg(direction * ahead_deg, line)
            turned = min(goal, line.room_deg)
            if turned > TOUCHING_DEG:
                seconds = turned / self._field_deg_s(self.pull_in_hz)
                piece = self._piece(shaft.angle_deg, direction * turned, seconds, line, source)
                return Motion((piece,), "reached" if turned == goal else "next event")
        return Motion((), "reached")

    def _driven(self, shaft: Shaft, line: Load, source: Source) -> Motion:
        """Return the wait until the field pulls, the way in step with it, and the stand after the rotor fell out."""
        rotor, field_deg_s = self._rotor(source), abs(shaft.speed_deg_s)
        ahead_deg = math.copysign(1.0, shaft.speed_deg_s) * (shaft.held_deg - shaft.angle_deg)
        end_deg = ahead_deg + field_deg_s * shaft.drive_s
        turned = min(rotor.way_deg(end_deg, line), self._falls_out_deg(line, field_deg_s, source), line.room_deg)
        follows = end_deg <= turned + rotor.lag_deg(_torque_nm(line, turned)) + TOUCHING_DEG
        wait_s, turn_s = self._times_s(shaft, rotor, ahead_deg, line, turned)
        stand_s = shaft.drive_s - wait_s - turn_s if turned < line.room_deg and not follows else 0.0
        turn = math.copysign(turned, shaft.speed_deg_s)
        there = shaft.angle_deg + turn
        stretches = ((shaft.angle_deg, 0.0, wait_s), (shaft.angle_deg, turn, turn_s), (there, 0.0, stand_s))
        pieces = (self._piece(start, way, seconds, line, source) for start, way, seconds in stretches if seconds > 0.0)
        return Motion(tuple(pieces), "reached" if follows else "next event")

    def _times_s(self, shaft: Shaft, rotor: Rotor, ahead_deg: float, line: Load, turned: float) -> tuple[float, float]:
        """Return the seconds until a field that is ``ahead_deg`` ahead pulls, and of the turn in step with it."""
        if turned == 0.0:
            return shaft.drive_s, 0.0
        field_deg_s, pulls_deg = abs(shaft.speed_deg_s), max(ahead_deg, rotor.lag_deg(line.torque_nm))
        wait_s = (pulls_deg - ahead_deg) / field_deg_s
        steps_s = (turned + rotor.lag_deg(_torque_nm(line, turned)) - pulls_deg) / field_deg_s
        catch_up_s = turned / max(self._field_deg_s(self.pull_in_hz), field_deg_s)
        return wait_s, min(max(steps_s, catch_up_s), shaft.drive_s - wait_s)

    def _piece(self, start: float, way: float, seconds: float, line: Load, source: Source) -> Piece:
        """Return a turn at constant speed, or a stand against no more than the motor's torque."""
        if way == 0.0:
            line = Load(min(line.torque_nm, self.stall_torque_nm(source)), 0.0, line.room_deg)
        return Piece(seconds, start, way / seconds, 0.0, line, self._supply_a(source), 0.0, source)

    def _falls_out_deg(self, line: Load, field_deg_s: float, source: Source) -> float:
        """Return the way after which a load makes the rotor fall out of a field of this speed, infinite if never."""
        spare_nm = self._pull_out_nm(field_deg_s, source) - line.torque_nm
        if spare_nm < 0.0:
            return 0.0
        return spare_nm / line.slope_nm_per_deg if line.slope_nm_per_deg > 0.0 else math.inf

    def _pull_out_nm(self, field_deg_s: float, source: Source) -> float:
        rate_hz = self.step_rate_hz * field_deg_s / self._field_deg_s(self.step_rate_hz)
        if rate_hz > self.pull_in_hz:
            return 0.0
        return self._rotor(source).most_nm * self.pull_out_share * min(1.0, self.corner_hz / rate_hz)

    def _rotor(self, source: Source) -> Rotor:
        cycle_deg = CYCLE_STEPS * 360.0 / (self.steps_per_turn * self.gear_ratio)
        return Rotor(cycle_deg, self._at_shaft_nm() * min(1.0, self._most_a(source) / self.rated_current_a))

    def _at_shaft_nm(self) -> float:
        return self.holding_torque_nm * self.gear_ratio * self.gear_efficiency

    def _field_deg_s(self, rate_hz: float) -> float:
        return rate_hz * 360.0 / (self.steps_per_turn * self.gear_ratio)

    def _believed_step_deg(self) -> float:
        return 360.0 / (self.steps_per_turn * self.microsteps * self.believed_ratio)

    def _most_a(self, source: Source) -> float:
        """Return the current of one winding with the supply put on both."""
        return source.voltage_v / (self.winding_ohm + PHASES * source.resistance_ohm)

    def _supply_a(self, source: Source) -> float:
        """Return the supply current: of all windings, or what feeds their heat where a chopper lowers the voltage."""
        most_a = self._most_a(source)
        if self.driver == "voltage" or most_a <= self.rated_current_a:
            return PHASES * most_a
        heat_w = PHASES * self.rated_current_a**2 * self.winding_ohm
        root_v = math.sqrt(max(0.0, source.voltage_v**2 - 4.0 * source.resistance_ohm * heat_w))
        return 2.0 * heat_w / (source.voltage_v + root_v)


def _torque_nm(line: Load, turned: float) -> float:
    return line.torque_nm + line.slope_nm_per_deg * turned
