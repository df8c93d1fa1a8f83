"""Finding out which way a knob tightens, by one small move."""

from dataclasses import dataclass
from typing import Any, ClassVar, Final, NamedTuple

from controllers.base import altered
from controllers.wrappers.wrapper import Wrapper
from models.messages import LISTEN, Command, GiveUp, Reading, Spin, Turn

NOT_RESOLVED: Final = "which way the knob tightens is not resolved"
READINGS_AFTER: Final = 2  # the first one after a move may have been under way before it


class Known(NamedTuple):
    """What is known of the sense so far."""

    sense: int = 0
    """+1 = turning forward tightens, -1 = it loosens, 0 = not known."""
    before_cents: float | None = None
    """Pitch error before the small move; None = not moved yet."""
    readings: int = 0
    """Readings at rest since the move."""


@dataclass(frozen=True, slots=True)
class FindSense(Wrapper):
    """Make one small move before the first turn, see whether the pitch rose or fell, and turn every command round.

    Law: a change between ``least_cents`` and ``most_cents`` after ``probe_deg`` forward tells the sense; any other one
    tells nothing, and the machine gives up. It does not move at all when the string is sharper than ``sharpest_cents``.

    Fails when: the readings before and after are wrong by about as much as the pitch moved.
    """

    fresh: ClassVar[Known] = Known()

    probe_deg: float
    sharpest_cents: float
    least_cents: float
    most_cents: float

    def update(self, memory: tuple[Known, Any], reading: Reading) -> tuple[Command, tuple[Known, Any]]:
        """Return the inner command as the knob needs it, or what it takes to find out."""
        known, inner = memory
        if known.before_cents is not None and known.sense == 0:
            known = self._heard(known, reading)
            if known.sense == 0:
                waiting = known.readings < READINGS_AFTER
                return (LISTEN if waiting else GiveUp(NOT_RESOLVED)), (known, inner)
        command, inner = self.inner.update(inner, reading)
        if known.sense == 0 and isinstance(command, Turn | Spin) and reading.cents is not None:
            return self._probed(reading.cents, altered(self.inner, inner, 0.0))
        return _turned(command, known.sense), (known, inner)

    def turned(self, memory: tuple[Known, Any], angle_deg: float) -> tuple[Known, Any]:
        """Hand on what the last turn became, as an angle that tightens."""
        known, inner = memory
        return known, altered(self.inner, inner, known.sense * angle_deg)

    def _probed(self, cents: float, inner: Any) -> tuple[Command, tuple[Known, Any]]:
        if cents > self.sharpest_cents:
            return GiveUp(NOT_RESOLVED), (Known(), inner)
        return Turn(self.probe_deg), (Known(before_cents=cents), inner)

    def _heard(self, known: Known, reading: Reading) -> Known:
        if reading.cents is None or reading.moving or known.before_cents is None:
            return known
        rise = reading.cents - known.before_cents
        readings = known.readings + 1
        told = readings == READINGS_AFTER and self.least_cents <= abs(rise) <= self.most_cents
        return known._replace(readings=readings, sense=(1 if rise > 0.0 else -1) if told else 0)


def _turned(command: Command, sense: int) -> Command:
    if sense < 0 and isinstance(command, Turn):
        return Turn(-command.angle_deg)
    if sense < 0 and isinstance(command, Spin):
        return Spin(-command.speed_deg_s)
    return command
