"""The faults of one run: what passes each seam, altered on each fault's own occasions."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from models.faults.base import Built, Fault, Moment, Reset, Seam
from models.messages import Command, Estimate
from models.units import NANOSECONDS

if TYPE_CHECKING:
    from sim.seeds import Chance  # it needs numpy, which the design sheet does without


class Faults:
    """Faults by name with their states in one run."""

    def __init__(
        self, faults: Mapping[str, Fault], accepts: frozenset[type], chance: "Chance", *, altered: bool
    ) -> None:
        self._faults, self._accepts, self._chance = faults, accepts, chance
        self.struck_ns: int | None = 0 if altered else None
        """When a fault first changed something: at the start where the rig was ``altered`` before it."""
        self._states: dict[str, Any] = {}
        self._reading = 0

    def heard(self, estimate: Estimate, now_ns: int) -> Estimate:
        """Return what the detector says in place of an estimate; call it once a reading."""
        self._reading += 1
        found, _ = self._passes("estimate", estimate, now_ns)
        assert isinstance(found, Estimate)
        return found

    def told(self, command: Command, now_ns: int) -> Command | Reset:
        """Return what comes out of the unit in place of a command."""
        found: Command | Reset = self._passes("command", command, now_ns)[0]
        return found

    def driven(self, command: Command, now_ns: int) -> tuple[Command, bool]:
        """Return what the motor does in place of a command, and whether it was asked for."""
        found, unasked = self._passes("drive", command, now_ns)
        return found, not unasked

    def _passes(self, seam: Seam, message: Any, now_ns: int) -> tuple[Any, bool]:
        unasked = False
        for name, fault in self._faults.items():
            if fault.seam != seam:
                continue
            moment = self._moment(name, now_ns)
            if fault.acts(moment):
                passed = message
                message, self._states[name] = fault.apply(passed, self._states.get(name), moment)
                if self.struck_ns is None and message != passed:
                    self.struck_ns = now_ns
                unasked = unasked or fault.unasked
            else:
                self._states[name] = fault.notes(message, self._states.get(name))
        return message, unasked

    def _moment(self, name: str, now_ns: int) -> Moment:
        draw = self._chance.fault(name, self._reading)
        return Moment(self._reading, now_ns / NANOSECONDS, draw, self._accepts)


def faulty(faults: Mapping[str, Fault], built: Built, draws: Mapping[str, float]) -> Built:
    """Return a specimen with those faults of the rig in it whose draw (0 to 1, by name) says so."""
    for name, fault in faults.items():
        if draws[name] < fault.probability:
            built = fault.alter(built)
    return built
