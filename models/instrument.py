"""The plant: strings on one body, each with its drive train, advanced lazily.

Tensions follow from all windings. How the body lets strings pull on each other is said between their tunings (see
``models.body``), not in here. Nothing in here is a process: whoever touches it says what time it is.
"""

import math
from collections.abc import Mapping

from models.drivetrain import Chain
from models.knob import Angles
from models.path import Path
from models.strings.tension import SLACK_N, Pitch
from models.strings.vibration import amplitude_db
from models.units import NANOSECONDS

Course = tuple[list[float], list[float]]
"""Corners of a polygon: seconds and Hz."""


class Instrument:
    """One or more strings, their paths, their plucks, and the one that broke if one did."""

    def __init__(self, chains: Mapping[str, Chain], begins: Mapping[str, Angles]) -> None:
        self.chains = chains
        self.paths = {name: Path(begins[name]) for name in chains}
        self.plucks: dict[str, list[tuple[int, float]]] = {name: [] for name in chains}
        self.breaks_ns: dict[str, int] = {}
        self.now_ns = 0

    def advance(self, now_ns: int) -> None:
        """Move the plant's clock on; ``ValueError`` if it would run backwards."""
        if now_ns < self.now_ns:
            raise ValueError(f"the plant is at {self.now_ns} ns and cannot go back to {now_ns} ns")
        self.now_ns = now_ns

    def broken(self, string: str) -> bool:
        """Return whether the string has broken by now."""
        return string in self.breaks_ns and self.breaks_ns[string] <= self.now_ns

    def pluck(self, string: str, now_ns: int, level_db: float) -> None:
        """Sound a string from ``now_ns`` on, at a level re the usual pluck."""
        self.plucks[string].append((now_ns, level_db))

    def note(self, string: str, now_ns: int) -> tuple[float, float]:
        """Return the seconds since the last pluck and the level of its note re a usual fresh one.

        Before the first pluck: infinity and minus infinity.
        """
        for struck_ns, level in reversed(self.plucks[string]):
            if struck_ns <= now_ns:
                since_s = (now_ns - struck_ns) / NANOSECONDS
                return since_s, level + amplitude_db(since_s, self.chains[string].string.t60_s)
        return math.inf, -math.inf

    def tension_n(self, string: str, now_ns: int) -> float:
        """Return a string's tension at an instant, 0 after it broke."""
        if now_ns >= self.breaks_ns.get(string, now_ns + 1):
            return 0.0
        return max(0.0, self.drifted_n(string, self.paths[string].tension_n(now_ns), now_ns))

    def drifted_n(self, string: str, tension_n: float, now_ns: int) -> float:
        """Return what a tension that winding gives has become by creep and temperature."""
        return self.chains[string].drifted_n(tension_n, now_ns / NANOSECONDS)

    def pitch_hz(self, string: str, tension_n: float, kind: Pitch) -> float | None:
        """Return the pitch of a string at a tension, None when it is slack."""
        return self.chains[string].string.pitch_hz(tension_n, kind)

    def heard_hz(self, string: str, from_ns: int, to_ns: int, kind: Pitch) -> tuple[float | None, bool]:
        """Return the mean pitch over a window that has closed, and whether the drive train moved in it.

        The pitch is None if the string was slack or broke in the window.
        """
        resting = self.paths[string].resting_n(from_ns, to_ns)
        if self.breaks_ns.get(string, to_ns + 1) <= to_ns:
            return None, resting is None
        if resting is not None:  # what drifts does so too slowly to bend within a window
            return self.pitch_hz(string, self.drifted_n(string, resting, (from_ns + to_ns) // 2), kind), False
        return self._mean_hz(string, from_ns, to_ns, kind), True

    def course_hz(self, string: str, from_ns: int, to_ns: int) -> Course | None:
        """Return the first partial over an interval as a polygon: seconds from its start, and Hz, of one length.

        A resting string gives its two ends. None if the string was slack or broke in the interval.
        """
        if self.breaks_ns.get(string, to_ns + 1) <= to_ns:
            return None
        path = self.paths[string]
        resting = path.resting_n(from_ns, to_ns)
        instants = [from_ns, to_ns] if resting is not None else path.instants(from_ns, to_ns)
        tensions = [self.drifted_n(string, path.tension_n(instant), instant) for instant in instants]
        if min(tensions) < SLACK_N:
            return None
        hz = [self.chains[string].string.first_partial_hz(tension) for tension in tensions]
        return [(instant - from_ns) / NANOSECONDS for instant in instants], hz

    def turning_s(self, string: str, from_ns: int, to_ns: int) -> list[tuple[float, float]]:
        """Return the spans in which the motor turned, in seconds from the start of an interval."""
        spans = self.paths[string].turning_ns(from_ns, to_ns)
        return [((begin - from_ns) / NANOSECONDS, (end - from_ns) / NANOSECONDS) for begin, end in spans]

    def _mean_hz(self, string: str, from_ns: int, to_ns: int, kind: Pitch) -> float | None:
        path, total = self.paths[string], 0.0
        for instant, weight in path.samples(from_ns, to_ns):
            pitch = self.pitch_hz(string, self.drifted_n(string, path.tension_n(instant), instant), kind)
            if pitch is None:
                return None
            total += weight * pitch
        return total
