"""A brushed gear motor: driven for a time, or until its encoder has counted far enough; then it brakes or coasts."""

import math
from dataclasses import replace
from typing import Annotated, ClassVar, Final, Literal, NamedTuple

from pydantic import Field, model_validator

from models.component import Positive, component
from models.coupler import WALL_NM
from models.messages import Load, Motion, Piece, Source, Spin, Stop, Turn
from models.motors.approach import Approach
from models.motors.base import LoadLine, Rotary, Shaft, Step, angle_deg, halted, rounded, travel_s

LOAD_STEP: Final = 0.02  # share of the stall torque by which the load may change within a piece
COAST_S: Final = 2000.0  # time constant of an open circuit: long, so that the shaft slows down evenly
LEAST_STEP: Final = 0.001  # the same close to a stall, where it is
NEAR_STALL: Final = 0.15  # of what is left up to the stall torque
SPIN_UP: Final = 3.0  # time constants after which the speed is nearly the one that the load allows
SETTLED: Final = 0.06  # share of that speed by which it may still differ then
LEAST_SPEED: Final = 1e-3  # share of the no-load speed below which a driven shaft stands
DUST: Final = 1e-9  # seconds or degrees that count as none


class Wiring(NamedTuple):
    """What the winding is connected to, and what follows for the shaft."""

    push_nm: float
    """Torque of the shaft at rest, less the motor's own friction."""
    deg_s_per_nm: float
    """Final speed per torque that is left: below 0 where the shaft comes to rest before."""
    rate_per_s: float
    least_deg_s: float
    """Speed below which a driven shaft stands; 0 for one that runs out."""
    idle_a: float
    """Supply current without load; 0 for a brake or an open circuit."""
    a_per_nm: float
    """Supply current per load."""
    surge_a_per_deg_s: float
    """Supply current per speed that is still to be gained."""

    def final_deg_s(self, load_nm: float) -> float:
        """Return the speed that the shaft goes towards."""
        return (self.push_nm - load_nm) * self.deg_s_per_nm


class Left(NamedTuple):
    """What is left to turn: whichever is used up first."""

    seconds: float
    degrees: float


NO_LIMIT: Final = Left(math.inf, math.inf)
NONE_LEFT: Final = Left(0.0, 0.0)


@component
class GearMotor(Rotary):
    """A brushed gear motor behind a switching driver, seen at the gear's output.

    Law: ``I = (d V - Ke w) / (R + d^2 R_supply)``, ``J dw/dt = Kt (I - I0) - torque``, the supply gives ``d I``; with
    ``R = V / I_stall``, ``Ke = (V - R I0) / w0``, ``Kt = torque_stall / (I_stall - I0)`` from the data sheet, and ``J =
    tm Ke Kt / R``. Two constants, as the gear loses torque and not speed. Braking is ``d V = 0``, coasting an open
    circuit. At rest it starts only if ``Kt (I - I0)`` reaches the break-away factor times the load. The driver turns an
    angle into ``angle / believed speed`` seconds, or drives until its encoder has counted the angle; what the shaft
    runs on is not counted off the next turn. A turn the other way waits until the shaft stands. Within a piece the load
    is its mean over time, and changes by at most 2 % of the stall torque: turns of 27 to 240 degrees under a load that
    rises from 10 to 60 % of it end within 0.03 degrees of an integration in small steps (tested).

    Fails when: pulses are shorter than the spin-up (their angle grows with the square of time), the load is above
    what the duty can break away, the battery sags, the driver's switching is slow beside the winding's ``L / R``, or
    the brushes stick.

    Source: equations of a brushed motor with constant friction; constants from the no-load and stall rows of its sheet.
    """

    accepts: ClassVar[frozenset[type]] = frozenset({Turn, Spin})

    reference_v: Annotated[float, Field(gt=1, le=60)]
    """Voltage at which speed, torque and currents are given. Beside them in the data sheet."""

    speed_ref_deg_s: Annotated[float, Field(gt=5, le=20000)]
    """No-load speed of the output shaft at the reference voltage: 100 rpm is 600 deg/s."""

    run_current_a: Positive
    """Current without load at the reference voltage. From the data sheet."""

    stall_torque_ref_nm: Annotated[float, Field(gt=0.001, le=50)]
    """Stall torque of the output shaft at the reference voltage: 1 kgf mm = 9.81 mN m."""

    stall_current_a: Positive
    """Current at stall, at the reference voltage. From the data sheet."""

    time_constant_ms: Annotated[float, Field(ge=1, le=1000)]
    """Mechanical time constant: without load, 63 % of the speed are reached after it. Film it, or ``R J / (Ke Kt)``."""

    breakaway_factor: Annotated[float, Field(ge=1, le=5)]
    """Torque that starts the resting shaft, as a multiple of the load. 1 = no stiction; 1.5 is a careful guess."""

    duty: Annotated[float, Field(gt=0, le=1)]
    """Share of time for which the driver switches the supply on during a turn. Your own choice; 1 = always."""

    stopping: Literal["brake", "coast"]
    """What the driver does with the winding at the end: shorts it, or opens it. From the driver's circuit."""

    believed_speed_deg_s: Annotated[float, Field(gt=0, le=20000)]
    """Speed by which the driver turns degrees into seconds at its duty. Measured, else the no-load speed times it."""

    encoder_counts: Annotated[int, Field(ge=0, le=1000000)]
    """Counts of an encoder on the motor's side in one turn of the output; 0 = none. Its counts times the gear ratio."""

    output_slop_deg: Annotated[float, Field(ge=0, le=30)]
    """Free turn of the output shaft behind the gear, which no encoder sees. Hold the motor and wiggle the shaft."""

    @model_validator(mode="after")
    def _is_a_motor(self) -> "GearMotor":
        if self.run_current_a >= self.stall_current_a:
            raise ValueError("run_current_a is not below stall_current_a; a motor draws most at stall")
        if self._nm_per_a() > math.degrees(self._v_s_per_deg()):
            raise ValueError("stall torque and no-load speed are too high for the currents: power comes from nowhere")
        return self

    def aim(self, command: Turn | Spin | Stop, shaft: Shaft) -> Shaft:
        """Return the state with the pulse's seconds, or the counts to go for; the shaft may still be turning."""
        here, way = shaft.angle_deg, command.angle_deg if isinstance(command, Turn) else 0.0
        running = halted(here)._replace(speed_deg_s=shaft.speed_deg_s)
        if way == 0.0:
            return running
        if self.encoder_counts:
            goal = here + rounded(way, 360.0 / self.encoder_counts)
            return running._replace(asked_deg=goal, held_deg=goal, drive_s=math.inf)
        return running._replace(
            asked_deg=here + way, held_deg=math.copysign(math.inf, way), drive_s=abs(way) / self.believed_speed_deg_s
        )

    def plan(self, command: Turn | Spin | Stop, shaft: Shaft, load: LoadLine, source: Source) -> Motion:
        """Return pieces of nearly constant load: spin-up and drive, then the run-out; of both only what is left."""
        wanted, shaft = _sense(command), _struck(shaft, load)
        sense = _sign(shaft.speed_deg_s) or wanted
        if sense == 0:
            return Motion((), "reached")
        ahead, found = load(sense), list[Piece]()
        while True:
            left = _left(command, wanted, shaft) if sense == wanted else NONE_LEFT
            driven = left.seconds > DUST and left.degrees > DUST
            if not driven and shaft.speed_deg_s == 0.0:
                return Motion(tuple(found), "next event" if wanted == -sense else "reached")
            wiring, most = (self._powered(command, source), left) if driven else (self._stopped(), NO_LIMIT)
            piece = self._piece(shaft, sense, ahead, wiring, most, source)
            if piece is None:
                return Motion(tuple(found), "stalled")
            found.append(piece)
            shaft = self.after(shaft, piece, piece.duration_s)
            ahead = _beyond(ahead, abs(shaft.angle_deg - piece.start_deg))
            if not ahead.room_deg > DUST:
                return Motion(tuple(found), "next event")

    def after(self, shaft: Shaft, piece: Piece, seconds: float) -> Shaft:
        """Return the state with the shaft moved on, its speed, and what is left of the pulse."""
        excess_deg_s, driven = piece.speed_deg_s - piece.final_deg_s, piece.current_a > 0.0
        lagged_s = travel_s(piece.rate_per_s, seconds)
        speed = piece.speed_deg_s - excess_deg_s * piece.rate_per_s * lagged_s
        return Shaft(
            piece.start_deg + piece.final_deg_s * seconds + excess_deg_s * lagged_s,
            shaft.asked_deg, shaft.held_deg, shaft.left_deg,
            0.0 if self._stands(piece, abs(speed), driven) else speed,
            max(0.0, shaft.drive_s - seconds) if driven else shaft.drive_s,
        )  # fmt: skip

    def holding_nm(self, source: Source) -> float:
        """Return the friction of motor and gear: a resting driver feeds nothing."""
        del source
        return self._nm_per_a() * self.run_current_a

    def unpowered(self) -> "GearMotor":
        """Return the motor with its winding open: it coasts, whatever the driver does at the end of a turn."""
        return replace(self, stopping="coast")

    def slop_deg(self) -> float:
        """Return the free turn of the output shaft behind the gear."""
        return self.output_slop_deg

    def stall_torque_nm(self, source: Source) -> float:
        """Return the torque that stops the shaft at the duty of a turn; less than that starts it again."""
        return max(0.0, self._driven(self.duty, source).push_nm)

    def starting_torque_nm(self, source: Source) -> float:
        """Return the load that the resting shaft breaks away from: the stall torque over the break-away factor."""
        return self.stall_torque_nm(source) / self.breakaway_factor

    def least_step_deg(self, torque_nm: float, source: Source) -> Step:
        """Return what one encoder count, or a pulse of one time constant, makes with its run-out.

        A shorter pulse turns the shaft by the square of its time and by what stiction leaves of it.
        """
        asked = 360.0 / self.encoder_counts if self.encoder_counts else self._spin_up_deg()
        turn, begins = Turn(asked), self.rest()
        load_nm = min(torque_nm, 0.99 * self.starting_torque_nm(source))
        motion = self.plan(turn, self.aim(turn, begins), lambda sense: Load(load_nm, 0.0, math.inf), source)
        turned = sum(angle_deg(piece, piece.duration_s) - piece.start_deg for piece in motion.pieces)
        return Step(turned, "encoder count" if self.encoder_counts else "spin-up")

    def rest_current_a(self, source: Source) -> float:
        """Return 0: a resting driver feeds nothing."""
        del source
        return 0.0

    def speed_deg_s(self, torque_nm: float, source: Source) -> float:
        """Return the speed against a torque at the duty of a turn, once spun up."""
        if torque_nm >= self.stall_torque_nm(source):
            return 0.0
        return self._driven(self.duty, source).final_deg_s(torque_nm)

    def _piece(self, shaft: Shaft, sense: int, ahead: Load, wiring: Wiring, most: Left, source: Source) -> Piece | None:
        """Return the next stretch, at most so much; None for a motor that cannot move. No load gives current back."""
        if shaft.speed_deg_s == 0.0 and not self._starts(wiring, ahead.torque_nm):
            return None
        law, seconds = self._stretch(abs(shaft.speed_deg_s), ahead, wiring, most)
        if seconds == 0.0:
            return None
        surge_a = wiring.surge_a_per_deg_s * (law.final_deg_s - law.start_deg_s)
        return Piece(
            seconds, shaft.angle_deg, sense * law.start_deg_s, law.rate_per_s, ahead, wiring.idle_a,
            wiring.a_per_nm if ahead.torque_nm >= 0.0 else 0.0, source, sense * law.final_deg_s, surge_a,
        )  # fmt: skip

    def _stretch(self, start_deg_s: float, ahead: Load, wiring: Wiring, most: Left) -> tuple[Approach, float]:
        """Return how the speed goes under the load's mean over the stretch, and for how long."""
        most_deg = min(most.degrees, ahead.room_deg, self._even_deg(ahead, wiring))
        mean_deg = most_deg / 2.0
        for _ in range(2):  # first for the longest stretch, then for as long as that one is
            law = Approach(start_deg_s, wiring.final_deg_s(_load_nm(ahead, mean_deg)), wiring.rate_per_s)
            most_s = min(most.seconds, law.seconds_to_fall(wiring.least_deg_s), _spin_up_s(law, ahead))
            seconds = law.seconds_within(most_deg, most_s)
            if ahead.slope_nm_per_deg == 0.0 or not 0.0 < seconds < math.inf:
                break
            mean_deg = law.mean_deg(seconds)
        return law, seconds

    def _stands(self, piece: Piece, speed: float, driven: bool) -> bool:
        """Return whether the shaft has come to rest: driven, when it is too slow and not on its way to more."""
        if not driven:
            return speed <= DUST * (abs(piece.speed_deg_s) + abs(piece.final_deg_s))
        least_deg_s = LEAST_SPEED * self.speed_ref_deg_s * (1.0 + DUST)
        return speed <= least_deg_s and (
            abs(piece.final_deg_s) <= least_deg_s or piece.speed_deg_s * piece.final_deg_s < 0.0
        )

    def _starts(self, wiring: Wiring, load_nm: float) -> bool:
        """Return whether the resting shaft breaks away."""
        return wiring.push_nm > load_nm * (self.breakaway_factor if load_nm > 0.0 else 1.0)

    def _powered(self, command: Turn | Spin | Stop, source: Source) -> Wiring:
        """Return the driver at the duty of a command: of a spin in proportion to the speed."""
        share = abs(command.speed_deg_s) / self.believed_speed_deg_s if isinstance(command, Spin) else 1.0
        return self._driven(min(1.0, self.duty * share), source)

    def _driven(self, duty: float, source: Source) -> Wiring:
        """Return the driver switching at a duty, which passes power on without loss."""
        return self._wiring(duty * source.voltage_v, self._winding_ohm() + duty**2 * source.resistance_ohm, duty)

    def _stopped(self) -> Wiring:
        """Return the winding shorted or open."""
        ohm = self._winding_ohm()
        return self._wiring(0.0, ohm if self.stopping == "brake" else ohm * COAST_S * 1e3 / self.time_constant_ms, 0.0)

    def _wiring(self, voltage_v: float, resistance_ohm: float, share: float) -> Wiring:
        """Return the winding in a circuit of that resistance in all."""
        nm_per_a, v_s_per_deg = self._nm_per_a(), self._v_s_per_deg()
        return Wiring(
            push_nm=nm_per_a * (voltage_v / resistance_ohm - self.run_current_a),
            deg_s_per_nm=resistance_ohm / (nm_per_a * v_s_per_deg),
            rate_per_s=1e3 / self.time_constant_ms * self._winding_ohm() / resistance_ohm,
            least_deg_s=LEAST_SPEED * self.speed_ref_deg_s if share else 0.0,
            idle_a=share * self.run_current_a,
            a_per_nm=share / nm_per_a,
            surge_a_per_deg_s=share * v_s_per_deg / resistance_ohm,
        )

    def _even_deg(self, ahead: Load, wiring: Wiring) -> float:
        """Return the angle within which the load changes little, beside the stall torque and what is left up to it."""
        slope = abs(ahead.slope_nm_per_deg)
        if slope == 0.0:
            return math.inf
        left = abs(wiring.push_nm - ahead.torque_nm) / self.stall_torque_ref_nm
        step = min(LOAD_STEP, max(LEAST_STEP, NEAR_STALL * left))
        return step * self.stall_torque_ref_nm / slope

    def _spin_up_deg(self) -> float:
        return self.believed_speed_deg_s * self.time_constant_ms * 1e-3

    def _winding_ohm(self) -> float:
        return self.reference_v / self.stall_current_a

    def _v_s_per_deg(self) -> float:
        return (self.reference_v - self.run_current_a * self._winding_ohm()) / self.speed_ref_deg_s

    def _nm_per_a(self) -> float:
        return self.stall_torque_ref_nm / (self.stall_current_a - self.run_current_a)


def _sign(number: float) -> int:
    return (number > 0.0) - (number < 0.0)


def _sense(command: Turn | Spin | Stop) -> int:
    """Return which way a command turns the shaft, 0 for neither."""
    return _sign(command.angle_deg if isinstance(command, Turn) else getattr(command, "speed_deg_s", 0.0))


def _struck(shaft: Shaft, load: LoadLine) -> Shaft:
    """Return the state after the blow: a shaft that turns into a wall stands at once."""
    sense = _sign(shaft.speed_deg_s)
    return shaft._replace(speed_deg_s=0.0) if sense and load(sense).torque_nm >= WALL_NM else shaft


def _left(command: Turn | Spin | Stop, sense: int, shaft: Shaft) -> Left:
    """Return what is left to drive of a command, the shaft not turning against it."""
    if isinstance(command, Spin):
        return NO_LIMIT
    return Left(shaft.drive_s, (shaft.held_deg - shaft.angle_deg) * sense)


def _spin_up_s(law: Approach, ahead: Load) -> float:
    """Return when to look at a changing load again: while the speed changes too, soon; infinite once it has settled."""
    if ahead.slope_nm_per_deg == 0.0:
        return math.inf
    settled = abs(law.final_deg_s - law.start_deg_s) <= SETTLED * abs(law.final_deg_s)
    return math.inf if settled else SPIN_UP / law.rate_per_s


def _load_nm(ahead: Load, turned_deg: float) -> float:
    """Return the load after an angle, which may be infinite where the load is constant."""
    return ahead.torque_nm + (ahead.slope_nm_per_deg * turned_deg if ahead.slope_nm_per_deg else 0.0)


def _beyond(ahead: Load, turned_deg: float) -> Load:
    """Return the load from there on."""
    return Load(_load_nm(ahead, turned_deg), ahead.slope_nm_per_deg, ahead.room_deg - turned_deg)
