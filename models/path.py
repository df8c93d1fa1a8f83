"""The path of a string: stretches of motion in closed form, with rest between them.

Each stretch is evaluated from its own start, so that looking at it often changes nothing.
"""

from bisect import bisect_left, bisect_right
from itertools import pairwise
from typing import Final, NamedTuple

from models.knob import Angles
from models.messages import Piece
from models.motors.base import Shaft, angle_deg
from models.units import NANOSECONDS

# Nodes and weights of the five-point Gauss-Legendre rule on 0..1 (Abramowitz & Stegun, table 25.4)
GAUSS: Final = (
    (0.046910077030668, 0.118463442528095),
    (0.230765344947158, 0.239314335249683),
    (0.5, 0.284444444444444),
    (0.769234655052842, 0.239314335249683),
    (0.953089922969332, 0.118463442528095),
)

PARTS: Final = 12  # straight parts of a stretch that a sound follows


class Stretch(NamedTuple):
    """One piece of a motion on the clock of the run."""

    start_ns: int
    end_ns: int
    piece: Piece
    begins: Angles
    ends: Angles
    shaft: Shaft
    """State of the motor at the start."""
    gain_n: float
    """Tension of the speaking length per degree of the shaft: 0 while slop is taken up or the nut holds."""
    charge_c: float
    """What the motor draws in it."""

    def shaft_deg(self, now_ns: int) -> float:
        """Return the shaft's angle at an instant, held beyond the end."""
        if now_ns >= self.end_ns:
            return self.ends.shaft_deg
        return angle_deg(self.piece, (now_ns - self.start_ns) / NANOSECONDS)

    def tension_n(self, now_ns: int) -> float:
        """Return the tension of the speaking length at an instant, held beyond the end; below 0 when slack."""
        if now_ns >= self.end_ns:
            return self.ends.speaking_n
        return self.begins.speaking_n + self.gain_n * (self.shaft_deg(now_ns) - self.begins.shaft_deg)


class Path:
    """Where one drive train has been, from a starting position at time 0."""

    __slots__ = ("_starts", "begins", "stretches")

    def __init__(self, begins: Angles) -> None:
        self.begins = begins
        self.stretches: list[Stretch] = []
        self._starts: list[int] = []

    def add(self, stretch: Stretch) -> None:
        """Append a stretch that starts no earlier than the last one ends."""
        self.stretches.append(stretch)
        self._starts.append(stretch.start_ns)

    def cut(self, now_ns: int) -> None:
        """Forget what was planned for later than ``now_ns`` and end what is under way."""
        while self.stretches and self.stretches[-1].start_ns >= now_ns:
            self.stretches.pop()
            self._starts.pop()

    def replace_last(self, stretch: Stretch) -> None:
        """Put another stretch with the same start in place of the last one."""
        self.stretches[-1] = stretch

    def last_before(self, now_ns: int) -> Stretch | None:
        """Return the last stretch that started at or before an instant."""
        place = bisect_right(self._starts, now_ns)
        return self.stretches[place - 1] if place else None

    def since(self, from_ns: int) -> list[Stretch]:
        """Return the stretches that start at ``from_ns`` or later."""
        return self.stretches[bisect_left(self._starts, from_ns) :]

    def tension_n(self, now_ns: int) -> float:
        """Return the tension of the speaking length at an instant; below 0 as far as it is slack."""
        stretch = self.last_before(now_ns)
        return self.begins.speaking_n if stretch is None else stretch.tension_n(now_ns)

    def resting_n(self, from_ns: int, to_ns: int) -> float | None:
        """Return the tension if the drive train rests through an interval, else None."""
        stretch = self.last_before(to_ns - 1)
        if stretch is None:
            return self.begins.speaking_n
        return stretch.ends.speaking_n if stretch.end_ns <= from_ns else None

    def samples(self, from_ns: int, to_ns: int) -> list[tuple[int, float]]:
        """Return instants and weights (sum 1) whose weighted sum integrates a smooth function over an interval."""
        corners = [from_ns, *self._corners(from_ns, to_ns), to_ns]
        found = []
        for left, right in pairwise(corners):
            share = (right - left) / (to_ns - from_ns)
            found += [(round(left + node * (right - left)), share * weight) for node, weight in GAUSS]
        return found

    def instants(self, from_ns: int, to_ns: int) -> list[int]:
        """Return instants between which the motion over an interval is nearly straight, its ends among them."""
        corners = [from_ns, *self._corners(from_ns, to_ns), to_ns]
        within = [left + (right - left) * part // PARTS for left, right in pairwise(corners) for part in range(PARTS)]
        return [*dict.fromkeys(within), to_ns]

    def turning_ns(self, from_ns: int, to_ns: int) -> list[tuple[int, int]]:
        """Return the parts of an interval in which the shaft turned."""
        spans = [(max(each.start_ns, from_ns), min(each.end_ns, to_ns)) for each in self.stretches]
        return [(begin, end) for begin, end in spans if begin < end]

    def _corners(self, from_ns: int, to_ns: int) -> list[int]:
        first = max(0, bisect_right(self._starts, from_ns) - 1)
        last = bisect_right(self._starts, to_ns)
        edges = {edge for stretch in self.stretches[first:last] for edge in (stretch.start_ns, stretch.end_ns)}
        return sorted(edge for edge in edges if from_ns < edge < to_ns)
