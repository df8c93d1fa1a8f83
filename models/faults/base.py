"""The contract of faults: a defect on one seam of the rig, from an occasion on.

A fault changes the rig before a run (``alter``) or what passes through its seam in the run (``apply``). Both hand on
what they got unless a kind of fault says otherwise. A fault keeps nothing: what it must remember is a state that is
passed in and out.
"""

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Final, Literal, NamedTuple

from pydantic import Field, model_validator

from models.component import Share, component
from models.drive import Machine
from models.drivetrain import Chain
from models.messages import Command, Estimate, Spin, Turn

Seam = Literal["rig", "task", "command", "drive", "supply", "estimate", "reading"]
Place = Literal["firmware", "separate circuit", "mechanics", "hand"]
"""Where a guard lives."""

NEVER_S: Final = 1e5  # longer than any run

WithinRun = Annotated[float, Field(ge=0, le=NEVER_S)]
"""Seconds since the start of a run."""
ReadingNumber = Annotated[int, Field(ge=0, le=100000)]
Factor = Annotated[float, Field(ge=0.1, le=10)]
"""What a property is over the planned one."""
Left = Annotated[float, Field(ge=0.01, le=1)]
"""Share of a property that is left; nothing at all is another fault."""


@dataclass(frozen=True, slots=True)
class Reset:
    """The unit loses its supply for a moment and starts again, with nothing remembered."""


RESET = Reset()
Message = Estimate | Command | Reset


class Witness(NamedTuple):
    """A ready rig on which a fault changes what happens."""

    rig: str = "default"
    string: str = "E4"
    strategy: str = "proportional"
    changes: tuple[str, ...] = ()


class Built(NamedTuple):
    """What a fault may change of a specimen before its run."""

    chain: Chain
    machine: Machine
    delay_s: float
    """Time that every reading takes longer than the machine counts on."""


class Moment(NamedTuple):
    """When a message passes a seam, and a draw of chance for it."""

    reading: int
    """Number of the reading from 1; 0 when the machine is switched on."""
    at_s: float
    draw: float
    """0 to 1, evenly, of this fault at this reading."""
    accepts: frozenset[type]
    """Commands that the motor can follow, of ``Turn`` and ``Spin``."""


@component
class Fault:
    """What all faults have in common: the occasion on which they act.

    Law: acts on reading ``k`` at time ``t`` when ``k >= from_reading``, ``from_s <= t <= until_s`` and a draw is below
    ``probability``. A fault of the rig acts from the start or not at all.

    Fails when: two faults share a cause, and come together more often than by chance.

    Source: fault injection at an interface, common practice.
    """

    from_reading: ReadingNumber = 1
    """First reading that it acts on, from 1; 0 = already when the machine is switched on."""

    from_s: WithinRun = 0.0
    """Seconds since the start of the run from which it acts."""

    until_s: WithinRun = NEVER_S
    """Seconds since the start of the run up to which it acts."""

    probability: Share = 1.0
    """Share of readings on which it acts in that time; of runs for a fault of the rig."""

    seam: ClassVar[Seam]
    witness: ClassVar[Witness] = Witness()
    """Where the shared test sees it change a run."""
    takes_out: ClassVar[frozenset[Place]] = frozenset()
    """Places whose guards it disables while it acts."""
    unasked: ClassVar[bool] = False
    """Whether the motor moves without the unit's command: a guard that acts on commands cannot stop it then, and no
    hand grips again for it."""

    @model_validator(mode="after")
    def _begins_before_it_ends(self) -> "Fault":
        if self.from_s > self.until_s:
            raise ValueError(f"from_s is {self.from_s:g}, after until_s, {self.until_s:g}; allowed: from_s <= until_s")
        return self

    def acts(self, moment: Moment) -> bool:
        """Return whether it acts at a moment."""
        in_time = self.from_s <= moment.at_s <= self.until_s
        return moment.reading >= self.from_reading and in_time and moment.draw < self.probability

    def alter(self, built: Built) -> Built:
        """Return the specimen with the defect in it."""
        return built

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return what passes the seam on this occasion in place of ``message``, and the next state (None at first)."""
        del moment
        return message, state

    def notes(self, message: Message, state: Any) -> Any:
        """Return the state after a message passed unharmed, for a fault that must remember what was before it."""
        del message
        return state


def heard_at(message: Message, ratio: float) -> Estimate:
    """Return an estimate with its pitch times ``ratio``; one that heard nothing stays so."""
    assert isinstance(message, Estimate)
    return message if message.pitch_hz is None else message._replace(pitch_hz=message.pitch_hz * ratio)


def first_heard(message: Message, state: Any) -> Any:
    """Return the first estimate that heard something, None before it."""
    assert isinstance(message, Estimate)
    return message if state is None and message.pitch_hz is not None else state


def scaled(message: Message, factor: float) -> Message:
    """Return a turn or a spin times ``factor``; other commands stay what they are."""
    if isinstance(message, Turn):
        return Turn(message.angle_deg * factor)
    return Spin(message.speed_deg_s * factor) if isinstance(message, Spin) else message
