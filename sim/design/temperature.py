"""The share of temperature in an error budget: how far string and body move the pitch until they are warm or cold."""

import math

from models.strings.climate import Climate
from models.strings.tension import Strung
from models.units import cents
from scenarios.schema import Part, Range
from sim.build import Rig
from sim.design.extremes import at
from sim.design.share import Share, even
from sim.design.torque import tension_at_pitch_n


def temperature_share(part: Part, rig: Rig) -> Share:
    """Return the share of a climate: its whole change, since nobody says when in it the tuning ends.

    Spreads of what is not known of it add in squares, each with the rest in the middle.
    """
    string, tension = rig.chain.string, tension_at_pitch_n(rig)
    nominal: Climate = part.nominal()
    if nominal.is_steady():
        return Share("temperature", 0.0, 0.0)
    unknown = [f"{part.path}.{key}" for key, value in part.values.items() if isinstance(value, Range)]
    ends = ([_cents(part.drawn(at({key: end})), string, tension) for end in (0.0, 1.0)] for key in unknown)
    spread = math.hypot(*(even(abs(high - low)) for low, high in ends))
    return Share("temperature", _cents(nominal, string, tension), spread)


def _cents(climate: Climate, string: Strung, tension_n: float) -> float:
    later = max(0.0, tension_n + string.ea_n * climate.strain(math.inf))
    return cents(string.first_partial_hz(later), string.first_partial_hz(tension_n))
