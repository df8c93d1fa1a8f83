"""Step halving: each step half of the one before, at every reading or when the pitch has crossed the target."""

from typing import Annotated, ClassVar, Literal, NamedTuple

from pydantic import Field

from models.component import NonNegative, component
from models.messages import LISTEN, Command, Reading, Task, Turn


class Step(NamedTuple):
    """The step to take next, and on which side of the target the last one began."""

    step_deg: float
    side: int = 0
    """+1 = sharp, -1 = flat, 0 = no step taken yet."""


@component
class Halving:
    """Turn by a step that is halved as the tuning goes on, down to a least one.

    Law: ``turn = -s_k * sign(cents)`` outside the deadband; ``s_(k+1) = max(s_least, s_k / 2)`` after every step, or
    only when the side of the target has changed. The reading's size does not matter, so that an octave error costs no
    more than one step.

    Fails when: the string starts more than two first steps off (in cents; every reading), or a wrong reading takes one
    half to the wrong side. With a play of ``B`` the form that halves at every reading may be ``B + s_least`` off when
    its steps have shrunk, and goes on by least steps; the one that halves on a change of side needs more moves.

    Source: bisection: ``|c_k| <= 2 s_k``; independent arithmetic in the tests.
    """

    asks: ClassVar[frozenset[type]] = frozenset({Turn})

    first_step_deg: Annotated[float, Field(gt=0, le=3600)]
    """First turn of the shaft. Half of the largest error at the start, divided by cents per degree."""

    least_step_deg: Annotated[float, Field(gt=0, le=3600)]
    """Step below which nothing is halved. At most the deadband's width divided by cents per degree."""

    when: Literal["every reading", "sign change"]
    """When the step is halved: after every step, or when the pitch has crossed the target."""

    deadband_cents: NonNegative
    """Half-width of the band in which the controller does nothing. The tolerance or a little less."""

    def start(self, task: Task, kept: None = None) -> Step:
        """Return the first step."""
        del task, kept
        return Step(self.first_step_deg)

    def update(self, memory: Step, reading: Reading) -> tuple[Command, Step]:
        """Return a step against the error."""
        if reading.cents is None or abs(reading.cents) <= self.deadband_cents:
            return LISTEN, memory
        side, step_deg = (1 if reading.cents > 0 else -1), memory.step_deg
        if self.when == "sign change" and side == -memory.side:
            step_deg = self._half(step_deg)
        after_deg = self._half(step_deg) if self.when == "every reading" else step_deg
        return Turn(-side * step_deg), Step(after_deg, side)

    def _half(self, step_deg: float) -> float:
        return max(self.least_step_deg, step_deg / 2.0)
