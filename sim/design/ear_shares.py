"""The ear's shares of an error budget, after the readings that finish a tuning.

The machine takes its readings for the pitch, so that their mean error over the finishing readings is left in the
string, with its sign turned round: an ear that reads sharp leaves the string flat. What is drawn anew for each pluck or
reading shrinks with the root of their number, the rest does not.
"""

import math
from typing import NamedTuple

from models.hearing.statistical import StatisticalEar
from models.strings.vibration import amplitude_db
from models.units import cents
from scenarios.schema import Part, Range
from sim.build import Rig
from sim.design.share import Share, even


class Finishing(NamedTuple):
    """How a tuning ends."""

    readings: int
    """Readings in a row, with no move between."""
    readings_per_pluck: int

    def plucks(self) -> int:
        """Return the fewest plucks that these readings come from."""
        return math.ceil(self.readings / self.readings_per_pluck)

    def plucks_after_move(self) -> int:
        """Return the fewest plucks between the last move and the end."""
        return self.readings // self.readings_per_pluck


def ear_shares(part: Part, rig: Rig, finishing: Finishing) -> tuple[Share, ...]:
    """Return the shares of a statistical ear (for the signal ear the rig's statistical one stands in)."""
    ear: StatisticalEar = part.nominal()
    since_s = ear.skip_s + ear.window_s / 2.0
    gliding = math.exp(-since_s / ear.glide_s)
    fading = 10.0 ** (-amplitude_db(since_s, rig.chain.string.t60_s) / 20.0)
    each = math.hypot(ear.wander_cents, ear.reading_cents * fading) / math.sqrt(finishing.readings)
    rounding = even(_resolution_cents(ear, rig.chain.string.target_hz))
    bias = ear.bias_cents + ear.glide_cents * gliding + _hears_cents(ear, rig)
    bias_spread = math.hypot(_spread(part, "bias_cents"), gliding * _spread(part, "glide_cents"))
    return (
        Share("ear bias", -bias, bias_spread),
        Share("ear per run", 0.0, ear.run_cents + ear.glide_run_cents * gliding),
        Share("ear per pluck", 0.0, ear.pluck_cents / math.sqrt(finishing.plucks())),
        Share("ear per reading", 0.0, math.hypot(each, rounding)),
        Share("ear clock", _clock_cents(ear.clock_ppm), _clock_cents(_spread(part, "clock_ppm"))),
    )


def _hears_cents(ear: StatisticalEar, rig: Rig) -> float:
    """Return how far what the ear hears lies above what the target means, by the string's inharmonicity."""
    if ear.hears == rig.task.pitch:
        return 0.0
    string = rig.chain.string
    tension = string.tension_at_hz(string.target_hz)
    above = cents(string.effective_hz(tension), string.first_partial_hz(tension))
    return above if ear.hears == "effective" else -above


def _resolution_cents(ear: StatisticalEar, target_hz: float) -> float:
    """Return the step of readings at the target; all readings of a resting string fall on the same step."""
    return cents(target_hz + ear.resolution_hz, target_hz)


def _clock_cents(ppm: float) -> float:
    """Return how sharp a clock that runs fast leaves the string: its readings are low."""
    return cents(1.0 + ppm * 1e-6, 1.0)


def _spread(part: Part, key: str) -> float:
    """Return the standard deviation of a value over specimens: 0 for one that is known."""
    value = part.values[key]
    return even(value.high - value.low) if isinstance(value, Range) else 0.0
