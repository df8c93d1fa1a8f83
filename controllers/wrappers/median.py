"""The median of several readings in place of one."""

from dataclasses import dataclass
from statistics import median
from typing import Any, ClassVar

from controllers.wrappers.wrapper import Wrapper
from models.messages import LISTEN, Command, Reading, Spin, Turn
from models.units import shifted


@dataclass(frozen=True, slots=True)
class Median(Wrapper):
    """Let a controller act on the median of the last readings that were heard; moves forget them.

    Law: listen until ``readings`` were heard since the last move, then hand on the latest one with their median. Of 3
    readings, each wrong with a chance ``p``, the median is wrong with ``3 p^2 (1 - p) + p^3``. A missed reading goes
    through as it is.

    Fails when: readings share an error: those of one pluck do. It costs as many readings more before each move.
    """

    fresh: ClassVar[tuple[float, ...]] = ()

    readings: int

    def update(self, memory: tuple[tuple[float, ...], Any], reading: Reading) -> tuple[Command, Any]:
        """Return the inner command for the median, or listen on."""
        heard, inner = memory
        if reading.cents is None:
            command, inner = self.inner.update(inner, reading)
            return command, (heard, inner)
        heard = (*heard, reading.cents)[-self.readings :]
        if len(heard) < self.readings:
            return LISTEN, (heard, inner)
        command, inner = self.inner.update(inner, _with(reading, median(heard)))
        return command, (() if isinstance(command, Turn | Spin) else heard, inner)


def _with(reading: Reading, cents: float) -> Reading:
    if reading.pitch_hz is None or reading.cents is None:
        return reading._replace(cents=cents)
    return reading._replace(cents=cents, pitch_hz=shifted(reading.pitch_hz, cents - reading.cents))
