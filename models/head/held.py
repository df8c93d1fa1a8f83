"""How nut and saddle hold a string, seen from the end of it that the head pulls."""

from models.head.base import TuningHead
from models.head.nut import Friction, Nut, friction, mirrored
from models.strings.tension import String


def held(string: String, head: TuningHead, nut: Nut, body_m: float = 0.0) -> Friction | None:
    """Return friction at nut and saddle, None where the string slides freely.

    The body gives way as if the string were ``body_m`` longer. Raises ``ValueError`` when the lengths leave no string
    between a groove and the head.
    """
    ea_n = string.axial_stiffness_kn * 1e3
    found = friction(nut, ea_n, string.length_mm * 1e-3 + body_m, string.total_length_mm * 1e-3 + body_m)
    return mirrored(found) if found is not None and head.pulls_behind_saddle() else found
