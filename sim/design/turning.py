"""What one turn against a constant torque takes: seconds, charge, and how far the supply sags."""

import math
from typing import Final, NamedTuple

from models.messages import Load, Piece, Source, Turn
from models.motors.base import Motor, angle_deg, charge_c, voltage_v

LEAST_DEG: Final = 1e-9  # turns below this are none


class Turning(NamedTuple):
    """One turn, strokes in a row and re-grips left out; infinite seconds and charge where the motor stands."""

    seconds: float
    charge_c: float
    lowest_v: float
    """Lowest terminal voltage on the way; the open-circuit voltage where nothing moves."""


def turning(motor: Motor, angle: float, torque_nm: float, source: Source) -> Turning:
    """Return a turn of the shaft by ``angle`` degrees (0 or more), tightening against a torque of 0 or more."""
    stroke = min(angle, motor.stroke_deg())
    if stroke < LEAST_DEG:
        return Turning(0.0, 0.0, source.voltage_v)
    pieces = _stroke(motor, stroke, torque_nm, source)
    turned = sum(angle_deg(piece, piece.duration_s) - piece.start_deg for piece in pieces)
    if turned < LEAST_DEG:
        return Turning(math.inf, math.inf, source.voltage_v)
    strokes = angle / turned  # droop, run-out and a wrong belief are made good for by more turning
    return Turning(
        seconds=strokes * (motor.lead_s() + sum(piece.duration_s for piece in pieces)),
        charge_c=strokes * sum(charge_c(piece, piece.duration_s) for piece in pieces),
        lowest_v=min(voltage_v(piece, at_s) for piece in pieces for at_s in (0.0, piece.duration_s)),
    )


def _stroke(motor: Motor, angle: float, torque_nm: float, source: Source) -> tuple[Piece, ...]:
    turn, load = Turn(angle), Load(torque_nm, 0.0, math.inf)
    shaft = motor.aim(turn, motor.regripped(1))
    return motor.plan(turn, shaft, lambda direction: load, source).pieces
