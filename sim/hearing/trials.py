"""Changes tried on the strings where the rig's own detector fails: really measured, alone and then together."""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from models.detectors.base import Detector
from scenarios.schema import Scenario
from sim.ears import told_by_rig
from sim.hearing.cells import cell, firmware
from sim.hearing.changes import Change, changes
from sim.hearing.measured import Effort, measure
from sim.hearing.study import SERVES, Cell

EFFORT: Final = Effort(specimens=10, plucks=2, windows=3)
RANKS: Final = {
    "serves": 0, "too wide": 0, "gross errors": 1, "seldom heard": 2, "does not fit": 3, "window too short": 4,
}  # fmt: skip
"""Kinds of failure, from the one nearest to serving."""
WORTH: Final = 0.9  # errors that remain after a change that is worth it; estimate
FRESH: Final = 1
"""What is added to the seed for the machines that confirm a choice."""
MOST_TOGETHER: Final = 3
"""Changes that are tried together when none serves alone."""


class Trial(NamedTuple):
    """The rig's own ear, or one changed, on one string."""

    changes: tuple[str, ...]
    """In words; empty for the rig as it is."""
    cell: Cell

    def serves(self) -> bool:
        """Return whether it keeps the tolerance."""
        return self.cell.verdict == SERVES


class Cure(NamedTuple):
    """What was found for one string: the rig as it is, and the smallest change that serves or else the best found."""

    before: Trial
    best: Trial


def cure(scenario: Scenario, string: str, other: tuple[str, Detector] | None, seed: int) -> Cure:
    """Return the smallest change that makes the rig's own ear serve on a string.

    All changes are tried alone, from the cheapest; then those that help most are joined by one more at a time. When
    nothing serves, the best of what was tried. What was chosen is measured once more, on machines that had no part in
    the choice, and only that is told.
    """
    before, known = _trial((), scenario, string, seed), changes(other)
    best, rig = before, scenario
    while len(best.changes) < MOST_TOGETHER:
        found = _one_more(best, rig, string, known, seed)
        if found is None:
            break
        best, rig = found
        if best.serves():
            break
    if not best.changes:
        return Cure(before, before)
    return Cure(_trial((), scenario, string, seed + FRESH), _trial(best.changes, rig, string, seed + FRESH))


def _one_more(
    best: Trial, rig: Scenario, string: str, known: dict[str, Change], seed: int
) -> tuple[Trial, Scenario] | None:
    """Return the first change on top of a rig that serves, else the one that helps most; None when none helps."""
    helped: list[tuple[Trial, Scenario]] = []
    for words, change in known.items():
        changed = None if words in best.changes else change(rig)
        if changed is None:
            continue
        trial = _trial((*best.changes, words), changed, string, seed)
        if trial.serves():
            return trial, changed
        helped.append((trial, changed))
    found = min(helped, key=lambda pair: badness(pair[0].cell), default=None)
    return found if found is not None and _helps(found[0].cell, best.cell) else None


def _helps(after: Cell, before: Cell) -> bool:
    """Return whether a change is worth its words: another kind of failure, or clearly smaller errors."""
    (rank_after, p95_after), (rank_before, p95_before) = badness(after), badness(before)
    return rank_after < rank_before or (rank_after == rank_before and p95_after < WORTH * p95_before)


def _trial(words: tuple[str, ...], scenario: Scenario, string: str, seed: int) -> Trial:
    detector: Detector = told_by_rig(scenario.hearing["detector"].nominal(), scenario, string)
    found = measure(scenario, string, {"own": detector}, seed, EFFORT)
    return Trial(words, cell("own", detector, found, firmware(scenario)))


def badness(found: Cell) -> tuple[int, float]:
    """Return a key that sorts cells from the best to the worst: kind of failure, then errors or what is not heard."""
    if found.verdict == "seldom heard":
        return RANKS[found.verdict], 1.0 - found.accepted / found.readings
    return RANKS[found.verdict], found.p95_cents if found.accepted else math.inf


def best_of(cells: Sequence[Cell]) -> Cell | None:
    """Return the best cell whose detector fits the processor, or does not say; None when none does."""
    return min((each for each in cells if each.fits is not False and each.accepted), key=badness, default=None)
