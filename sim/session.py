"""A session: one machine tunes all strings of an instrument, in passes, while they pull on each other."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from controllers.wrappers.find_sense import NOT_RESOLVED
from models.body import Coupling
from models.drive import Stand
from models.session import Session
from models.units import NANOSECONDS
from sim.build import Rig
from sim.loop import Record, simulate
from sim.plan import Plan
from sim.seeds import Chance
from sim.trace import Outcome


@dataclass(frozen=True, slots=True)
class Setup:
    """One specimen with one strategy, about to be tuned."""

    session: Session
    order: Sequence[str]
    coupling: Coupling
    rig: Callable[[str, frozenset[str]], Rig]
    """The machine on one string while some strings are taut."""
    plan: Callable[[str], Plan]
    start_cents: Callable[[str], float]
    chance: Callable[[str, int], Chance]
    """Of one visit (from 0) of a string."""
    carry: Callable[[str, int], tuple[float, float]]
    """Standard normal for the time and uniform for the slop position of bringing the drive to a string's visit."""


class Visit(NamedTuple):
    """One tuning of one string in a session."""

    record: Record
    carry_s: float
    """What bringing the drive there took."""

    def seconds(self) -> float:
        """Return how long the visit took, carrying included."""
        return self.carry_s + self.record.end_ns / NANOSECONDS

    def found_in_tune(self) -> bool:
        """Return whether the first pitch that was heard lay within the tolerance."""
        heard = (abs(reading.cents) for reading in self.record.readings if reading.cents is not None)
        return next(heard, math.inf) <= self.record.rig.task.tolerance_cents


class Sitting:
    """A session under way, and what it leaves behind."""

    def __init__(self, setup: Setup) -> None:
        self._setup = setup
        self._broken: frozenset[str] = frozenset()
        self._refused = False
        everything = frozenset(setup.order)
        self.rigs = {string: setup.rig(string, everything) for string in setup.order}
        """The machine on each string, with its body and its clock as they are by now."""
        self.stands = {string: self.rigs[string].begins(setup.start_cents(string)) for string in setup.order}
        """Where each string and the drive on it stand."""
        self.visits: dict[str, list[Visit]] = {string: [] for string in setup.order}
        self.seconds, self.used_c = 0.0, 0.0

    def hold(self) -> None:
        """Tune all strings in passes, until one finds every string in tune or the session's limit is reached.

        A string that breaks is left out from then on. A machine that cannot find out which way a knob tightens refuses
        to go on.
        """
        for number in range(self._setup.session.most_passes):
            found = [self._visited(string, number).found_in_tune() for string in self._wanted()]
            if self._refused or all(found):
                break
        self.rigs = {string: self._now(rig) for string, rig in self.rigs.items()}

    def _wanted(self) -> Iterator[str]:
        for string in self._setup.order:
            if not self._refused and string not in self._broken:
                yield string

    def _visited(self, string: str, number: int) -> Visit:
        normal, uniform = self._setup.carry(string, number)
        carry_s = self._setup.session.carry_time_s(normal, self.rigs[string].player.pluck_spread)
        self.seconds += carry_s
        begins = self._brought(string, uniform)
        record = simulate(self.rigs[string], self._setup.plan(string), begins, self._setup.chance(string, number))
        visit = Visit(record, carry_s)
        self.visits[string].append(visit)
        self.seconds += record.end_ns / NANOSECONDS
        self._refused = record.outcome is Outcome.GAVE_UP and record.detail == NOT_RESOLVED
        self._settle(string, record, begins)
        return visit

    def _brought(self, string: str, uniform: float) -> Stand:
        """Return the drive on a string at rest, brought there if it is carried."""
        rig = self.rigs[string] = self._now(self._setup.rig(string, self._taut()))
        angles = rig.chain.pulled(self.stands[string].angles, 0.0)
        if not self._setup.session.carried:
            return Stand(angles, self.stands[string].shaft, self.used_c)
        shaft = rig.machine.motor.rest()
        return Stand(rig.chain.put_on(rig.chain.regripped(angles, shaft.angle_deg, uniform)), shaft, self.used_c)

    def _settle(self, string: str, record: Record, begins: Stand) -> None:
        """Keep where the string stands, and let the body pull on the others."""
        assert record.ends is not None
        broke, before_n = record.outcome is Outcome.STRING_BROKE, begins.angles.speaking_n
        rise_n = (0.0 if broke else record.ends.angles.speaking_n) - before_n
        for other, change_n in self._setup.coupling.pulled_n(string, rise_n, self._taut()).items():
            stand = self.stands[other]
            self.stands[other] = stand._replace(angles=self.rigs[other].chain.pulled(stand.angles, change_n))
        self.stands[string], self.used_c = record.ends, record.ends.used_c
        self._broken |= {string} if broke else frozenset()

    def _taut(self) -> frozenset[str]:
        return frozenset(name for name, stand in self.stands.items() if stand.angles.speaking_n > 0.0) - self._broken

    def _now(self, rig: Rig) -> Rig:
        """Return a machine whose string drifts from the session's start on."""
        drift = rig.chain.drift
        if drift is None:
            return rig
        return replace(rig, chain=replace(rig.chain, drift=replace(drift, begins_s=self.seconds)))
