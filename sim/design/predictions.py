"""What each measurement of the bench should read on one specimen, in closed form.

Each function takes a specimen and the measurement's setting. It returns the lowest and the highest reading: they differ
where the reading depends on where a slip of the nut left the string, or on chance.
"""

import math
from typing import Any, Final, NamedTuple

from models.head.nut import Tensions, relaxed
from models.strings.tension import SLACK_N, Strung
from sim.build import Rig

GRAVITY: Final = 9.80665  # m/s2: standard gravity, 3rd CGPM 1901
TURNS_DEG: Final = 3600.0  # ten turns of a motor that turns round and round
READINGS: Final = 10  # of the ear, plucks of one string
CHI_LOW, CHI_HIGH = math.sqrt(2.700 / 9.0), math.sqrt(19.023 / 9.0)
"""Standard deviation of ten draws over the true one, 2.5 and 97.5 %: Abramowitz & Stegun, table 26.8, 9 degrees."""


class Span(NamedTuple):
    """Lowest and highest reading."""

    low: float
    high: float


def knob_turn_cents(rig: Rig, turn_deg: float) -> Span:
    """Return how far below its target a string is ``turn_deg`` of the knob before it, tensions evened out."""
    chain, target_n = rig.chain, at_pitch_n(rig)
    below_n = max(SLACK_N, target_n - chain.newton_per_deg * turn_deg / chain.ratio)
    return _exact(cents_between(chain.string, below_n, target_n))


def tightening_g(rig: Rig, arm_mm: float) -> Span:
    """Return the mass that just tightens the string from its target."""
    return _exact(grams(rig.chain.turning_nm(at_pitch_n(rig), 1), arm_mm))


def loosening_g(rig: Rig, arm_mm: float) -> Span:
    """Return the mass that just loosens it; below 0 is what must hold a head that does not lock."""
    return _exact(grams(rig.chain.turning_nm(at_pitch_n(rig), -1), arm_mm))


def lifting_g(rig: Rig, arm_mm: float) -> Span:
    """Return the mass that the motor just lifts from rest."""
    motor = rig.machine.motor
    sticks = getattr(motor, "breakaway_factor", 1.0)
    return _exact(grams(motor.stall_torque_nm(rig.machine.supply.source(0.0)) / sticks, arm_mm))


def wiggle_deg(rig: Rig, _: float) -> Span:
    """Return the free turn between motor and knob."""
    return _exact(2.0 * rig.chain.half_slop_deg)


def slack_wiggle_deg(rig: Rig, _: float) -> Span:
    """Return the free turn of the knob while the string is slack."""
    return _exact(rig.chain.backlash_deg * rig.chain.ratio)


def reversal_deg(rig: Rig, _: float) -> Span:
    """Return the turn of the knob from a plucked string, tightened last, down to where its pitch gives way.

    The nut lets go at the same ratio of tensions in any case; where it starts lies between a slip's end and the next
    one's start, less what the pluck relaxed.
    """
    chain, held, target_n = rig.chain, rig.chain.friction, at_pitch_n(rig)
    if held is None:
        return _exact(0.0)
    knob_deg_m = math.degrees(chain.ratio / chain.string.winding_radius_m)
    starts = (ratio ** (1.0 - rig.relaxation_share) for ratio in (held.nut_kinetic, held.nut_static))
    low, high = ((start - 1.0 / held.nut_static) * target_n / held.behind_n_m * knob_deg_m for start in starts)
    return Span(low, high)


def pressing_cents(rig: Rig, _: float) -> Span:
    """Return how far the pitch rises from the first pluck after tightening until nothing is held any more."""
    held = rig.chain.friction
    if held is None:
        return _exact(0.0)
    nuts, saddles = (held.nut_kinetic, held.nut_static), (1.0, held.saddle_static)
    found = [_pressed_cents(rig, nut, saddle) for nut in nuts for saddle in saddles]
    return Span(min(found), max(found))


def travel_deg(rig: Rig, _: float) -> Span:
    """Return the travel between the motor's ends."""
    return _exact(rig.machine.motor.stroke_deg())


def motor_s(rig: Rig, _: float) -> Span:
    """Return the time of the motor's whole travel without load, or of ten turns where it has no ends."""
    motor, source = rig.machine.motor, rig.machine.supply.source(0.0)
    return _exact(min(motor.stroke_deg(), TURNS_DEG) / motor.speed_deg_s(0.0, source))


def open_v(rig: Rig, _: float) -> Span:
    """Return the voltage of the supply with nothing connected."""
    return _exact(rig.machine.supply.source(0.0).voltage_v)


def stalled_v(rig: Rig, _: float) -> Span:
    """Return the voltage of the supply while a brushed motor is held still: ``V_oc - R I``.

    The current goes in a straight line with the torque, from the no-load row of the data sheet to the stall row.
    """
    motor: Any = rig.machine.motor
    source = rig.machine.supply.source(0.0)
    share = motor.stall_torque_nm(source) / motor.stall_torque_ref_nm
    drawn_a = motor.run_current_a + (motor.stall_current_a - motor.run_current_a) * share
    return _exact(source.voltage_v - source.resistance_ohm * getattr(motor, "duty", 1.0) * drawn_a)


def ear_cents(rig: Rig, _: float) -> Span:
    """Return the standard deviation of ten readings, one a pluck, of a string that nobody touches."""
    ear: Any = rig.ear
    spread = math.hypot(ear.pluck_cents, ear.wander_cents, ear.reading_cents)
    if ear.resolution_hz == 0.0:
        return Span(CHI_LOW * spread, CHI_HIGH * spread)
    step = 1200.0 * math.log2(1.0 + ear.resolution_hz / rig.chain.string.target_hz)
    return Span(0.0, CHI_HIGH * math.hypot(spread, step / 2.0))  # all on one step, or half on each of two


def at_pitch_n(rig: Rig) -> float:
    """Return the tension at the target."""
    return rig.chain.string.tension_at_hz(rig.chain.string.target_hz)


def grams(torque_nm: float, arm_mm: float) -> float:
    """Return the mass that makes a torque on a level arm."""
    return 1e6 * torque_nm / (GRAVITY * arm_mm)


def cents_between(string: Strung, from_n: float, to_n: float) -> float:
    """Return by how many cents the first partial rises between two tensions."""
    return 1200.0 * math.log2(string.first_partial_hz(to_n) / string.first_partial_hz(from_n))


def _pressed_cents(rig: Rig, nut: float, saddle: float) -> float:
    held, target_n = rig.chain.friction, at_pitch_n(rig)
    assert held is not None
    plucked = relaxed(Tensions(nut * target_n, target_n, target_n / saddle), held, rig.relaxation_share)
    return cents_between(rig.chain.string, plucked.speaking_n, relaxed(plucked, held, 1.0).speaking_n)


def _exact(value: float) -> Span:
    return Span(value, value)
