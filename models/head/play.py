"""The play operator: lost motion, memory of direction, nothing else.

Source: play operator of rate-independent hysteresis (Brokate & Sprekels, Hysteresis and Phase Transitions, 1996; from
memory). One operator serves the pulse deadband of a servo, the slop of a coupler and the backlash of a gear.
"""

import math


def play(output: float, drive: float, half: float) -> float:
    """Return the output after the drive moved to ``drive``, both free to differ by up to ``half`` (0 or more).

    ``w' = max(u - h, min(u + h, w))``. The lost motion at a reversal is ``2 h``.
    """
    return max(drive - half, min(drive + half, output))


def preloaded_play(output: float, drive: float, width: float, slack_below: float = math.inf) -> float:
    """Return the output of a play of ``width`` whose load pulls it down onto the drive while it lies above a point.

    ``theta' = clip(min(theta, theta_pf), phi, phi + b)``: above ``slack_below`` the load is stronger than friction and
    holds the lower flank in contact, so that nothing is lost at a reversal. With ``slack_below`` infinite this is the
    plain play of half-width ``b/2`` about ``phi + b/2``.
    """
    return play(min(output, slack_below), drive + width / 2.0, width / 2.0)
