"""What a controller may believe of the plant, and what follows from it."""

import math
from dataclasses import replace
from typing import Any, Final

BELIEVED: Final = "believed_cents_per_deg"
"""Parameter in which a controller keeps the slope of pitch over the shaft's angle at the target; 0 = to be told.

A rig gives it as ``dc/dT * k r / ratio`` at the target's tension, each range at its middle (``sim.plan``).
"""


def turn_to_target_deg(cents: float, cents_per_deg: float) -> float:
    """Return the turn that takes an error of ``cents`` away, by a slope above 0 at the target.

    ``T (1 - 2^(c/600)) / (k r)``, where ``T / (k r) = 600 / (ln 2 * slope)`` is the turn from slack to pitch.
    """
    slack_to_pitch_deg = 600.0 / (math.log(2.0) * cents_per_deg)
    return -slack_to_pitch_deg * math.expm1(cents / 600.0 * math.log(2.0))


def told(controller: Any, cents_per_deg: float) -> Any:
    """Return a controller that was told the slope of the rig if it has the parameter and no belief of its own.

    A user's own controller asks for it by naming its parameter ``believed_cents_per_deg``, with 0 in it.
    """
    fields = getattr(controller, "__dataclass_fields__", {})
    asks = BELIEVED in fields and getattr(controller, BELIEVED) == 0
    return replace(controller, **{BELIEVED: cents_per_deg}) if asks else controller
