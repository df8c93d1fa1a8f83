"""Theory of a rig in tables of 80 columns and in sentences."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any, Final, NamedTuple

from scenarios.schema import Scenario
from sim.design.theory import NEVER, PARTLY, Theory, plain, unknown_kinds
from sim.views.numbers import NONE, number
from sim.views.tables import Table

COUNTED: Final = (
    "Slope: of pitch over the shaft's angle at the target, with the corners of what is not known. Delay: decisions "
    "between a move and the first reading that shows it. Sure: the largest that is sure to come to rest. Take: the "
    "best where the slope is steepest. Theory leaves out noise, friction, play and the largest move."
)
ADDED: Final = (
    "Rests: sure in every corner, or in the middle of all ranges, or partly, from some starts; open: theory cannot "
    "tell. Hunts: at most, peak to peak, and readings a round. Lost: moves that play takes at a change of direction. "
    "Error: 95 of 100 finished tunings lie within; the widest of band, motor step and half a slip, and the noise. "
    "Plucks: median over all starts."
)
SHORT: Final = {"loop gain": "loop\ngain", "cents": "step\ncents", "cents/s": "speed\ncents/s"}


class Section(NamedTuple):
    """What is shown of theory."""

    tables: tuple[Table, ...]
    findings: tuple[str, ...]
    notes: tuple[str, ...]
    """How to read the tables."""
    data: Mapping[str, Any]
    """For JSON."""


def tables(found: Sequence[Theory]) -> list[Table]:
    """Return two tables a strategy: its loop, and what is predicted of it."""
    groups = [list(group) for _, group in groupby(found, key=_strategy)]
    return [table for group in groups for table in (_loop(group), _predictions(group))]


def _strategy(found: Theory) -> str:
    return found.strategy


def _loop(found: Sequence[Theory]) -> Table:
    first = found[0]
    columns = ("string", "slope\nc/deg", "low", "high", "believed", "delay", "s a\nreading", SHORT[first.claim.unit],
               "sure\nup to", "take")  # fmt: skip
    rows = tuple((
        each.string, *(number(slope) for slope in each.loop.slopes), number(each.believed_cents_per_deg),
        str(each.loop.decisions), number(each.loop.sample_s), number(each.claim.goes), number(each.claim.most),
        number(each.recommended),
    ) for each in found)  # fmt: skip
    return Table(f"Theory of {first.strategy} ({first.kind}): the loop; take: {first.claim.key}", columns, rows)


def _predictions(found: Sequence[Theory]) -> Table:
    columns = ("string", "rests", "hunts\ncents", "round\nread.", "lost\nmoves", "band\ncents", "step\ncents",
               "slip\ncents", "noise\ncents", "error\ncents", "plucks")  # fmt: skip
    rows = tuple((
        each.string, each.rests, *_cycle(each), str(each.claim.empty), number(each.loop.band_cents),
        number(each.loop.motor_step_cents, 2), number(each.loop.slip_cents, 2), number(each.loop.noise_cents, 2),
        number(each.error_cents, 2), number(each.plucks),
    ) for each in found)  # fmt: skip
    return Table(f"Theory of {found[0].strategy}: what it predicts", columns, rows)


def _cycle(found: Theory) -> tuple[str, str]:
    cycle = found.cycle()
    return (NONE, NONE) if cycle is None else (number(cycle.swing_cents), number(cycle.readings))


def findings(found: Sequence[Theory], scenario: Scenario) -> list[str]:
    """Return what theory says in sentences, a strategy each."""
    groups = [list(group) for _, group in groupby(found, key=_strategy)]
    said = [_sentence(group) for group in groups]
    return [*said, *(f"{name}: theory says nothing of its kind of law." for name in unknown_kinds(scenario))]


def _sentence(found: Sequence[Theory]) -> str:
    loose = [each for each in found if each.rests in (PARTLY, NEVER)]
    first, low, high = found[0], min(found, key=_recommended), max(found, key=_recommended)
    take = (
        "Theory has no value that is sure."
        if low.recommended == 0.0
        else (
            f"Theory takes {first.claim.key} = {number(low.recommended)} ({low.string})"
            f"{f' to {number(high.recommended)} ({high.string})' if high is not low else ''}."
        )
    )
    if not loose:
        return f"{first.strategy} comes to rest on every string. {take}"
    worst, strings = max(loose, key=_excess), ", ".join(each.string for each in loose)
    return (
        f"{first.strategy} is not sure to come to rest on {strings}: on {worst.string} it goes by "
        f"{number(worst.claim.goes)} {worst.claim.unit}, sure is {number(worst.claim.most)}. {take}"
    )


def _recommended(found: Theory) -> float:
    return found.recommended


def _excess(found: Theory) -> float:
    return found.claim.goes


def section(found: Sequence[Theory], scenario: Scenario) -> Section:
    """Return theory of a rig for screen, page and JSON."""
    said = tuple(findings(found, scenario))
    data = {
        "strategies": [plain(each) for each in found],
        "without_theory": unknown_kinds(scenario),
        "findings": list(said),
    }
    return Section(tuple(tables(found)), said, (COUNTED, ADDED), data)
