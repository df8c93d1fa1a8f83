"""Tension at pitch, and the torque at the knob that goes with it."""

from sim.build import Rig


def tension_at_pitch_n(rig: Rig) -> float:
    """Return the tension of the speaking length at the target."""
    return rig.chain.string.tension_at_hz(rig.chain.string.target_hz)


def torques_nm(rig: Rig) -> tuple[float, float]:
    """Return the torque of the knob that tightens and that loosens (negative = it must be held) at the target.

    Tightened against a nut that grips, the string behind it is tighter by the ratio at which it slips; loosened, less.
    """
    tension, friction = tension_at_pitch_n(rig), rig.chain.friction
    grip = 1.0 if friction is None else friction.nut_static
    return rig.chain.turning_nm(tension * grip, 1), rig.chain.turning_nm(tension / grip, -1)
