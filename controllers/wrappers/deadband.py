"""A band of readings in which nothing moves."""

from dataclasses import dataclass
from typing import Any

from controllers.base import altered
from controllers.wrappers.wrapper import Wrapper
from models.messages import LISTEN, STOP, Command, Reading, Spin, Turn


@dataclass(frozen=True, slots=True)
class Deadband(Wrapper):
    """Leave out the turns, and stop the spins, that a controller asks for inside a band.

    Fails when: the band is wider than the tolerance; the machine then rests out of tune and never finishes.
    """

    half_cents: float

    def update(self, memory: tuple[None, Any], reading: Reading) -> tuple[Command, tuple[None, Any]]:
        """Return the inner command outside the band, rest inside."""
        command, inner = self.inner.update(memory[1], reading)
        if reading.cents is None or abs(reading.cents) > self.half_cents:
            return command, (None, inner)
        if isinstance(command, Turn):
            return LISTEN, (None, altered(self.inner, inner, 0.0))
        return (STOP if isinstance(command, Spin) else command), (None, inner)
