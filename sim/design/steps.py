"""The smallest change of pitch, and what sets it."""

from typing import NamedTuple

from models.drivetrain import Chain
from models.messages import Source
from sim.build import Rig
from sim.design.torque import tension_at_pitch_n, torques_nm


class LeastStep(NamedTuple):
    """The smallest change that is sure to come when it is asked for."""

    motor_deg: float
    """Of the shaft, in the direction in which it is larger."""
    cents: float
    """Of the pitch: what the motor's step makes, or what friction or backlash makes of it, whichever is larger."""
    set_by: str


def least_step(rig: Rig, source: Source) -> LeastStep:
    """Return the smallest step of a string at its target."""
    motor, chain, tension = rig.machine.motor, rig.chain, tension_at_pitch_n(rig)
    motor_step = max(motor.least_step_deg(max(0.0, torque), source) for torque in torques_nm(rig))
    candidates = (
        (motor_step.angle_deg * chain.cents_per_knob_deg(tension), motor_step.set_by),
        (chain.slip_cents(tension), "friction slip"),
        (_loose_cents(chain, tension), "backlash"),
    )
    cents, set_by = max(candidates, key=lambda candidate: candidate[0])
    return LeastStep(motor_step.angle_deg, cents, set_by if cents > 0.0 else "nothing")


def _loose_cents(chain: Chain, tension_n: float) -> float:
    """Return what backlash is worth where the string's pull does not hold the gear on one flank; else 0."""
    held = tension_n / chain.newton_per_deg > chain.slack_below_deg
    return 0.0 if held else chain.backlash_deg * chain.ratio * chain.cents_per_knob_deg(tension_n)
