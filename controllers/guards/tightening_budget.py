"""Stops a machine that has turned further than it could need since a reading that made sense."""

from typing import ClassVar, NamedTuple

from controllers.guards.base import Acts, Event, Heard, Moved, Place, Sensor, Told, Woke
from models.component import NonNegative, Positive, component
from models.messages import Turn

ANSWERED = 0.25  # share of the predicted change that counts as an answer


class Spent(NamedTuple):
    """Turns since the last reading that was accepted."""

    turned_deg: float = 0.0
    expected_cents: float = 0.0
    """What the turns since the reading below should have changed."""
    heard_cents: float | None = None
    spinning: bool = False


@component
class TighteningBudget:
    """A budget of turns since the last accepted reading.

    Law: trips when ``sum |turn| > most_deg``. A reading is accepted, and the budget full again, when it lies between
    ``low_cents`` and ``high_cents`` and has answered the turns since the last one by a quarter of what they should do.

    Fails when: readings look right and are wrong, or the budget is lost with the supply (``survives_reset`` false).

    Source: independent supervision by a budget, common practice.
    """

    most_deg: Positive
    """Most turning of the shaft that a sound machine may need between two good readings."""

    cents_per_deg: Positive
    """What a degree of the shaft does to the pitch."""

    low_cents: float
    """Lowest pitch error that a start can have."""

    high_cents: float
    """Highest pitch error that a start can have."""

    least_cents: NonNegative = 5.0
    """Expected changes are added up until they reach this: the ear's spread hides smaller ones."""

    net: bool = False
    """Whether loosening gives back what tightening took. It then misses a reversed sign."""

    survives_reset: bool = True
    """Whether the sum is kept where a loss of supply does not erase it."""

    place: ClassVar[Place] = "firmware"
    sensor: ClassVar[Sensor] = "commands"
    acts: ClassVar[Acts] = "command"

    def start(self) -> Spent:
        """Return an empty sum."""
        return Spent()

    def watch(self, memory: Spent, event: Event) -> tuple[float | None, Spent]:
        """Return the time of the turn that is more than the budget."""
        before_deg = memory.turned_deg
        match event:
            case Told(command=Turn(angle_deg=angle)):
                memory = self._turned(memory, angle)._replace(spinning=False)
            case Told():
                memory = memory._replace(spinning=True)
            case Moved(turned_deg=angle) if memory.spinning:
                memory = self._turned(memory, angle)
            case Heard(cents=cents):
                memory = self._heard(memory, cents)
            case Woke() if not self.survives_reset:
                memory = Spent()
        if memory.turned_deg <= self.most_deg:
            return None, memory
        if not isinstance(event, Moved):
            return event.at_s, memory
        share = max(0.0, self.most_deg - before_deg) / (memory.turned_deg - before_deg)
        return event.at_s + share * (event.until_s - event.at_s), memory

    def _turned(self, memory: Spent, angle: float) -> Spent:
        spent = memory.turned_deg + (angle if self.net else abs(angle))
        return memory._replace(turned_deg=spent, expected_cents=memory.expected_cents + angle * self.cents_per_deg)

    def _heard(self, memory: Spent, cents: float | None) -> Spent:
        if cents is None:
            return memory
        before, due = memory.heard_cents, memory.expected_cents
        if before is not None and abs(due) < self.least_cents:
            return memory
        answered = before is None or (cents - before) / due >= ANSWERED
        good = answered and self.low_cents <= cents <= self.high_cents
        return Spent(0.0 if good else memory.turned_deg, 0.0, cents, memory.spinning)
