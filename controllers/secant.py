"""Secant: learns cents per degree from its own turns."""

import math
from typing import Annotated, ClassVar, Final, NamedTuple

from pydantic import Field

from models.component import NonNegative, component
from models.messages import LISTEN, Command, Reading, Task, Turn

SURE: Final = 5.0 * math.sqrt(2.0)  # spreads that a change must exceed: five of a difference of two readings
FARTHEST: Final = 3.0  # times larger or smaller than the belief that a slope may be learnt


class Learned(NamedTuple):
    """What the turns so far have taught."""

    cents_per_deg: float = 0.0
    """Slope as learnt; 0 = nothing learnt yet."""
    way: float = 1.0
    """Direction of the turn before the last one; a string that is brought to tuning was tightened last."""
    turn_deg: float = 0.0
    """Last turn, while its effect has not been heard; 0 = none."""
    from_cents: float = 0.0
    """Error from which it went."""


@component
class Secant:
    """Turn by the error over the slope that the turn before has shown; cautiously until one has shown it.

    Law: ``turn = -cents / G``; after a turn ``G = change of cents / turn``, held within 1/3 to 3 times the belief.
    Until something was learnt ``turn = -first_gain * cents / believed``. A turn teaches only if the pitch changed by
    more than ``5 sqrt(2)`` spreads of a reading, the way it was turned, and, unless ``learns_from_reversals``, the turn
    before went the same way: play would be taken for a small slope.

    Fails when: readings come later than the next decision, for a change is then put down to the wrong turn; or the
    spread is believed too small, and noise is learnt. A reading taken while turning is not acted on, and without
    any belief nothing moves.

    Source: secant method, any text on numerical methods; guards are independent arithmetic, the factor 3 an estimate.
    """

    asks: ClassVar[frozenset[type]] = frozenset({Turn})

    believed_cents_per_deg: NonNegative
    """Slope of pitch over the shaft's angle at pitch; 0 = told by the rig. Turn by 10 degrees and divide the cents."""

    first_gain: Annotated[float, Field(gt=0, le=2)]
    """Share of the error that turns go for until a slope has been learnt. 1 trusts the belief, 0.5 is cautious."""

    believed_spread_cents: NonNegative
    """Standard deviation of one reading. Pluck ten times without turning."""

    learns_from_reversals: bool
    """Whether a turn after a change of direction teaches too. Only true for a drive without play."""

    deadband_cents: NonNegative
    """Half-width of the band in which the controller does nothing."""

    def start(self, task: Task, kept: None = None) -> Learned:
        """Return that nothing was learnt."""
        del task, kept
        return Learned()

    def update(self, memory: Learned, reading: Reading) -> tuple[Command, Learned]:
        """Return a turn by what was learnt."""
        if reading.cents is None or reading.moving or self.believed_cents_per_deg == 0.0:
            return LISTEN, memory
        known = self._heard(memory, reading.cents)
        if abs(reading.cents) <= self.deadband_cents:
            return LISTEN, known
        slope = known.cents_per_deg or self.believed_cents_per_deg / self.first_gain
        turn_deg = -reading.cents / slope
        return Turn(turn_deg), known._replace(turn_deg=turn_deg, from_cents=reading.cents)

    def turned(self, memory: Learned, angle_deg: float) -> Learned:
        """Remember what was really turned."""
        return memory._replace(turn_deg=angle_deg)

    def _heard(self, memory: Learned, cents: float) -> Learned:
        if memory.turn_deg == 0.0:
            return memory
        way, rise = math.copysign(1.0, memory.turn_deg), cents - memory.from_cents
        same_way = self.learns_from_reversals or way == memory.way
        sure = rise * way > 0.0 and abs(rise) >= SURE * self.believed_spread_cents
        slope = self._held(rise / memory.turn_deg) if same_way and sure else memory.cents_per_deg
        return Learned(slope, way)

    def _held(self, slope: float) -> float:
        return max(self.believed_cents_per_deg / FARTHEST, min(self.believed_cents_per_deg * FARTHEST, slope))
