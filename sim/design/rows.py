"""Rows of the sheet: every check of every string with its verdict."""

import math
from dataclasses import dataclass
from typing import Final, Literal

from scenarios.schema import Scenario
from sim.design.checks import CHECKS, Needs
from sim.design.extremes import Extreme, worst
from sim.design.facts import Facts, facts, middle
from sim.design.strung import gives_m_n
from sim.specimen import Draw

Verdict = Literal["fits", "tight", "does not fit"]
ENOUGH: Final = 1.5  # times that a need must be met in the middle of all ranges; a careful guess is common practice
WHOLE: Final = "all"  # stands for all strings together


@dataclass(frozen=True, slots=True)
class Change:
    """One value of the rig that would make a row fit."""

    key: str
    """Dotted key as for ``--set``; ``*`` stands for every strategy."""
    value: float
    unit: str
    times: float
    """The value over what the rig has, in the middle of its range."""
    spoils: tuple[str, ...]
    """Checks of the same string that would no longer be met."""


@dataclass(frozen=True, slots=True)
class Row:
    """One check of one string."""

    string: str
    """``"all"`` for what concerns all strings together."""
    check: str
    need: float
    have: float
    unit: str
    margin: float
    """``have / need`` in the middle of all ranges; infinite where nothing is needed."""
    worst_margin: float
    """The same in the worst corner of all ranges."""
    verdict: Verdict
    changes: tuple[Change, ...] = ()
    """What would make it fit, the smallest change first; looked for only where it does not."""


def verdict(margin: float, worst_margin: float, *, mild: bool = False) -> Verdict:
    """Return the verdict: *fits* is 1.5 times the need in the middle of all ranges and once in their worst corner.

    A ``mild`` need that is not met is only tight: there is another way, which takes longer.
    """
    if margin < 1.0:
        return "tight" if mild else "does not fit"
    return "fits" if margin >= ENOUGH and worst_margin >= 1.0 else "tight"


def rows(scenario: Scenario, found: Facts) -> list[tuple[Row, Extreme]]:
    """Return the rows of a string whose facts in the middle of all ranges are ``found``, with their worst corners.

    A check that needs nothing, such as the step of a motor without steps, has no row; nor has the time of a motor that
    stands.
    """
    give = gives_m_n(scenario, middle)[found.string]
    extremes = worst(lambda draw: margins(scenario, found.string, draw, give))
    return [
        (row(found.string, name, check.needs(scenario, found), extreme, is_mild(name, found)), extreme)
        for (name, check), extreme in zip(CHECKS.items(), extremes, strict=True)
        if 0.0 < check.needs(scenario, found).need < math.inf
    ]


def row(string: str, check: str, needs: Needs, extreme: Extreme, mild: bool) -> Row:
    """Return one row."""
    judged = verdict(extreme.middle, extreme.worst, mild=mild)
    return Row(string, check, *needs, CHECKS[check].unit, extreme.middle, extreme.worst, judged)


def margins(scenario: Scenario, string: str, draw: Draw, give_m_n: float) -> list[float]:
    """Return the margin of each check of a string on a body that gives way by ``give_m_n``."""
    found = facts(scenario, string, draw, give_m_n)
    return [check.needs(scenario, found).margin() for check in CHECKS.values()]


def is_mild(check: str, found: Facts) -> bool:
    """Return whether a check may fail without harm: a hand re-grips where the travel is used up."""
    return check == "travel" and found.semitone_regrips is not None
