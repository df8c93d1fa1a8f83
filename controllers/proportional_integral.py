"""Proportional-integral by angle: a turn in proportion to the error and to the sum of all errors so far."""

from typing import Annotated, ClassVar, NamedTuple

from pydantic import Field

from models.component import NonNegative, component
from models.messages import LISTEN, Command, Reading, Task, Turn


class Sum(NamedTuple):
    """Sum of the errors, with the last one and without it."""

    cents: float = 0.0
    before_cents: float = 0.0


@component
class ProportionalIntegral:
    """Turn in proportion to the error and to the sum of errors, then listen.

    Law: ``turn = -(gain * c_k + integral * (c_0 + ... + c_k))`` outside the deadband; inside it nothing moves and
    nothing is added. The integral's part is held within ``most_integral_deg``, and an error whose turn was shortened by
    a wrapper is not added. Without delay the loop is stable for ``0 < K < 2``, ``0 < K_i < 4 - 2 K`` (both times cents
    per degree). A turn is a step of an integrator already: the integral only serves a pitch that creeps away meanwhile.

    Fails when: there is play: with ``K = 0.5``, ``K_i = 0.1`` and no deadband it hunts for ever over 0.30 of the play,
    30 readings a round. A deadband of half the play stops it.

    Source: Jury's criterion for ``z^2 + (K + K_i - 2) z + 1 - K``; conditional integration after Astrom & Murray,
    Feedback Systems, on windup (from memory).
    """

    asks: ClassVar[frozenset[type]] = frozenset({Turn})

    gain_deg_per_cent: Annotated[float, Field(gt=0, le=1000)]
    """Turn of the shaft per cent of error. 0.5 divided by cents per degree at the knob is cautious."""

    integral_deg_per_cent: Annotated[float, Field(ge=0, le=1000)]
    """Turn of the shaft per cent of the sum of errors. A fifth of the gain, or less."""

    most_integral_deg: NonNegative
    """Largest part of a turn that the sum may ask for. What the string creeps between two readings, in degrees."""

    deadband_cents: NonNegative
    """Half-width of the band in which nothing moves and nothing is added. Half of the play in cents, or more."""

    def start(self, task: Task, kept: None = None) -> Sum:
        """Return an empty sum."""
        del task, kept
        return Sum()

    def update(self, memory: Sum, reading: Reading) -> tuple[Command, Sum]:
        """Return a turn against the error and what was left of it so far."""
        if reading.cents is None or abs(reading.cents) <= self.deadband_cents:
            return LISTEN, memory
        total = self._held(memory.cents + reading.cents)
        turn_deg = self.gain_deg_per_cent * reading.cents + self.integral_deg_per_cent * total
        return Turn(-turn_deg), Sum(total, memory.cents)

    def turned(self, memory: Sum, angle_deg: float) -> Sum:
        """Take back the last error from the sum: its turn was altered."""
        del angle_deg
        return Sum(memory.before_cents, memory.before_cents)

    def _held(self, total: float) -> float:
        if self.integral_deg_per_cent == 0.0:
            return 0.0
        most = self.most_integral_deg / self.integral_deg_per_cent
        return max(-most, min(most, total))
