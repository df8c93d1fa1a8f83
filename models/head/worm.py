"""Screw and worm: what wedges turn into each other, and when they lock.

Law: lead angle ``l``, friction angle ``phi = atan(mu)``; the driven side gets ``tan(l) / tan(l + phi)`` of the work,
and of its pull's work ``tan(l - phi) / tan(l)`` comes back, negative = it locks.

Source: worm and power screw after Shigley, Mechanical Engineering Design, flank angle neglected.
"""

import math


def efficiency_up(lead_deg: float, friction: float) -> float:
    """Return the efficiency against the pull; lead above 0 degrees, friction 0 or more."""
    lead = math.radians(lead_deg)
    return math.tan(lead) / math.tan(lead + math.atan(friction))


def efficiency_back(lead_deg: float, friction: float) -> float:
    """Return the efficiency when the pull drives the screw; negative = self-locking."""
    lead = math.radians(lead_deg)
    return math.tan(lead - math.atan(friction)) / math.tan(lead)


def torque_share(lead_deg: float, friction: float, direction: int) -> float:
    """Return the torque that resists a screw, relative to one without friction; below 0 = it is driven.

    ``direction`` is +1 against the pull, -1 with it.
    """
    return 1.0 / efficiency_up(lead_deg, friction) if direction > 0 else -efficiency_back(lead_deg, friction)
