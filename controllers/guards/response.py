"""Stop a machine whose string does not answer to its turns, or answers the wrong way."""

from typing import ClassVar, Final, NamedTuple

from controllers.guards.base import Acts, Count, Event, Heard, Moved, Place, Sensor, Told
from models.component import Positive, component
from models.messages import Turn

ANSWERED: Final = 0.25  # share of the expected change that counts as an answer


class Asked(NamedTuple):
    """What was asked of the string since the last reading, and how often the answer was wrong in a row."""

    expected_cents: float = 0.0
    heard_cents: float | None = None
    wrong: int = 0
    spinning: bool = False


def followed(memory: Asked, event: Event, cents_per_deg: float) -> Asked:
    """Return the memory with what a turn should do to the pitch."""
    match event:
        case Told(command=Turn(angle_deg=angle)):
            return Asked(memory.expected_cents + angle * cents_per_deg, memory.heard_cents, memory.wrong)
        case Told():
            return memory._replace(spinning=True)
        case Moved(turned_deg=angle) if memory.spinning:
            return memory._replace(expected_cents=memory.expected_cents + angle * cents_per_deg)
    return memory


@component
class Answering:
    """What both guards have in common: turns add up until an answer is due, and wrong answers in a row trip.

    Law: an answer is due once turns should have changed the pitch by ``least_cents``; trips at ``in_a_row`` wrong ones.

    Fails when: readings look right and are wrong.

    Source: plausibility of actuator and sensor, common practice.
    """

    cents_per_deg: Positive
    """What a degree of the shaft does to the pitch."""

    least_cents: Positive = 15.0
    """Smallest change that counts (estimate: an ear tells it from its own spread)."""

    in_a_row: Count = 2
    """Wrong answers in a row that trip it."""

    place: ClassVar[Place] = "firmware"
    sensor: ClassVar[Sensor] = "readings"
    acts: ClassVar[Acts] = "command"

    def wrong(self, change_cents: float, due_cents: float) -> bool:
        """Return whether the pitch did not go the way that it should."""
        return change_cents * due_cents <= 0.0

    def start(self) -> Asked:
        """Return a memory without turns."""
        return Asked()

    def watch(self, memory: Asked, event: Event) -> tuple[float | None, Asked]:
        """Return the time of the reading that answers wrongly once too often."""
        if not isinstance(event, Heard):
            return None, followed(memory, event, self.cents_per_deg)
        before, due = memory.heard_cents, memory.expected_cents
        if event.cents is None or (before is not None and abs(due) < self.least_cents):
            return None, memory
        bad = before is not None and self.wrong(event.cents - before, due)
        count = memory.wrong + 1 if bad else 0
        return (event.at_s if count >= self.in_a_row else None), Asked(0.0, event.cents, count, memory.spinning)


@component
class NoResponse(Answering):
    """The pitch must change when the motor turns.

    Law: trips when, ``in_a_row`` times, turns added up to an expected change of ``least_cents`` and less than a
    quarter of it came.

    Fails when: backlash or a gripping nut swallows honest turns, or the ear is noisier than the turns are large.

    Source: plausibility of actuator and sensor, common practice.
    """

    def wrong(self, change_cents: float, due_cents: float) -> bool:
        """Return whether less than a quarter came."""
        return change_cents / due_cents < ANSWERED


@component
class WrongDirection(Answering):
    """The pitch must rise when the motor tightens, and fall when it loosens.

    Law: trips when, ``in_a_row`` times, at least ``least_cents`` were to be expected and as much came the other way.

    Fails when: two octave errors in a row look like it.

    Source: plausibility of actuator and sensor, common practice.
    """

    def wrong(self, change_cents: float, due_cents: float) -> bool:
        """Return whether as much came the other way."""
        return Answering.wrong(self, change_cents, due_cents) and abs(change_cents) >= self.least_cents
