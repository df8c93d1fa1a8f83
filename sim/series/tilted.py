"""Chance that errs more than the ear does, and knows by how much: importance sampling of the ear's errors.

A proposal is a mixture of tilts. Each run draws from one of them and is weighed by the density of the ear over that of
the whole mixture, ``w = p / sum_j a_j q_j``. A fifth of all runs are the ear itself, so that no weight exceeds 5: what
breaks strings in a way that no tilt foresees still counts, only without help.

Sources: Hesterberg 1995, Technometrics 37, 185 (defensive mixture); Veach & Guibas 1995 (balance heuristic).
"""

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import accumulate
from typing import Final, NamedTuple

from models.hearing.base import EarDraws
from models.hearing.statistical import StatisticalEar
from sim.seeds import Chance, Streams

Wanted = tuple[float, float, int] | tuple[float, float, int, float]
DEFENCE: Final = 0.2  # share of runs that are the ear itself
MOST_FORESEEN: Final = 60  # readings at which a tilt may begin
KINDS: Final[Mapping[str, Sequence[Wanted]]] = {
    "plain": (),
    "shift": ((-3.0, 1.0, 1), (-6.0, 1.0, 1), (-2.5, 1.0, 2), (-4.0, 1.0, 2), (-1.5, 1.0, 4), (-2.5, 1.0, 4),
              (0.0, 1.0, 1, 0.9), (0.0, 1.0, 2, 0.9), (0.0, 1.0, 4, 0.9), (0.0, 1.0, 8, 0.9)),
    "scale": ((0.0, 3.0, 1), (0.0, 5.0, 1), (0.0, 3.0, 2), (0.0, 2.0, 4), (0.0, 3.0, 4),
              (0.0, 1.0, 1, 0.5), (0.0, 1.0, 3, 0.6), (0.0, 1.0, 6, 0.7), (0.0, 1.0, 12, 0.8)),
}  # fmt: skip
"""Shift and scale in standard deviations of the ear's whole error, at how many readings in a row, and the chance of a
gross error downwards at each of them: by proposal.

*Plain* is the ear itself, so that all weights are 1. *Shift* reads too low: only that tightens. Both have tilts of runs
of octave errors, of other lengths and chances.
"""


class Spread(NamedTuple):
    """How much each kind of normal has in the ear's error: squares add up to 1; and how often it errs grossly."""

    run: float
    pluck: float
    reading: float
    gross: float = 0.0
    """Share of readings an octave low, or wild and low."""


class Tilt(NamedTuple):
    """Normals drawn from ``N(shift, scale^2)`` at some readings, each kind by its share of the error."""

    shift: float
    scale: float
    readings: range
    """Which ones, in the order of hearing, from 0."""

    gross: float = 0.0
    """Chance of a gross error downwards at each of them; 0 = that of the ear."""

    def made_gross(self, uniform: float, share: float, reading: int) -> float:
        """Return what becomes of a uniform draw whose lowest ``share`` stands for a gross error downwards."""
        if not self.likelier(share, reading):
            return uniform
        if uniform < self.gross:
            return uniform / self.gross * share
        return share + (uniform - self.gross) / (1.0 - self.gross) * (1.0 - share)

    def gross_log_ratio(self, value: float, share: float, reading: int) -> float:
        """Return the logarithm of this tilt's density over the uniform's at a value."""
        if not self.likelier(share, reading):
            return 0.0
        return math.log(self.gross / share if value < share else (1.0 - self.gross) / (1.0 - share))

    def likelier(self, share: float, reading: int) -> bool:
        """Return whether gross errors are likelier than the ear's own ``share`` at a reading."""
        return 0.0 < share < self.gross and reading in self.readings

    def tilted(self, normal: float, share: float, reading: int) -> float:
        """Return what becomes of a standard normal."""
        return share * self.shift + self._scale(share) * normal if reading in self.readings else normal

    def log_ratio(self, value: float, share: float, reading: int) -> float:
        """Return the logarithm of this tilt's density over the standard normal's at a value."""
        if reading not in self.readings:
            return 0.0
        scale = self._scale(share)
        away = (value - share * self.shift) / scale
        return 0.5 * (value * value - away * away) - math.log(scale)

    def _scale(self, share: float) -> float:
        return 1.0 + share * (self.scale - 1.0)


PLAIN: Final = Tilt(0.0, 1.0, range(0))  # the ear itself


class Proposal:
    """A mixture of tilts with their shares."""

    def __init__(self, name: str, readings: int, gross: float = 0.0) -> None:
        """Take the kinds of a proposal for runs of at most ``readings``; one begins at reading ``k`` by ``1 / k``.

        ``gross`` is the ear's own share of gross errors downwards: where it has none, no tilt makes them likelier.
        """
        kinds = [kind for kind in KINDS[name] if gross or len(kind) == 3]
        begins = range(min(readings, MOST_FORESEEN))
        self.tilts = (PLAIN, *(_tilt(k, *kind) for k in begins for kind in kinds))
        odds = [1.0 / (k + 1) for k in begins for _ in kinds]
        self.shares = (DEFENCE, *((1.0 - DEFENCE) * odd / sum(odds) for odd in odds)) if kinds else (1.0,)
        self.most = 1.0 / self.shares[0]
        self._sums = list(accumulate(self.shares))

    def at(self, uniform: float) -> Tilt:
        """Return the tilt that a draw from 0 to 1 stands for."""
        return self.tilts[min(bisect_right(self._sums, uniform), len(self.tilts) - 1)]


def _tilt(begins: int, shift: float, scale: float, many: int, gross: float = 0.0) -> Tilt:
    return Tilt(shift, scale, range(begins, begins + many), gross)


class TiltedChance(Chance):
    """The chance of a run, its normals of hearing drawn from one of a proposal's tilts."""

    def __init__(self, streams: Streams, string: str, run: int, proposal: Proposal, mine: Tilt, spread: Spread) -> None:
        super().__init__(streams, string, run)
        self._proposal, self._mine, self._spread = proposal, mine, spread
        self._places: dict[tuple[int, int], int] = {}
        self._values: dict[tuple[str, int, int], float] = {}
        self._met: list[tuple[float, float, int]] = []
        self._uniforms_met: dict[int, float] = {}

    def reading(self, pluck: int, number: int) -> EarDraws:
        """Return the ear's draws for a reading (from 0) of a pluck (from 0), its normals tilted."""
        draws = super().reading(pluck, number)
        place = self._places.setdefault((pluck, number), len(self._places))
        gross = self._uniforms_met[place] = self._mine.made_gross(draws.gross_uniform, self._spread.gross, place)
        return draws._replace(
            gross_uniform=gross,
            run_normal=self._value(("run", 0, 0), draws.run_normal, self._spread.run, place),
            pluck_normal=self._value(("pluck", pluck, 0), draws.pluck_normal, self._spread.pluck, place),
            reading_normal=self._value(("reading", pluck, number), draws.reading_normal, self._spread.reading, place),
        )

    def weight(self) -> float:
        """Return the density of what was drawn so far, over that of the proposal."""
        logs = [self._log_ratio(tilt) for tilt in self._proposal.tilts]
        highest = max(logs)
        shares = zip(self._proposal.shares, logs, strict=True)
        return math.exp(-highest) / sum(share * math.exp(log - highest) for share, log in shares)

    def _log_ratio(self, tilt: Tilt) -> float:
        share, uniforms = self._spread.gross, self._uniforms_met
        gross = sum(tilt.gross_log_ratio(uniforms[place], share, place) for place in tilt.readings if place in uniforms)
        return gross + sum(tilt.log_ratio(*met) for met in self._met)

    def _value(self, key: tuple[str, int, int], normal: float, share: float, place: int) -> float:
        """Return a normal tilted once, when it is first met, so that its densities count once."""
        if key not in self._values:
            self._values[key] = self._mine.tilted(normal, share, place)
            self._met.append((self._values[key], share, place))
        return self._values[key]


def spread_of(ear: StatisticalEar) -> Spread:
    """Return the shares of run, pluck and reading in the error of a fresh pluck."""
    parts = (ear.run_cents, ear.pluck_cents, math.hypot(ear.wander_cents, ear.reading_cents))
    whole = math.hypot(*parts)
    gross = ear.octave_low_share + ear.wild_share / 2.0
    run, pluck, reading = (part / whole if whole else 0.0 for part in parts)
    return Spread(run, pluck, reading, gross)
