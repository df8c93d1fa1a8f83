"""What a study of hearing says in sentences: does the rig's own detector serve, which is best, what would help."""

import math
from collections.abc import Sequence
from typing import Final

from sim.hearing.cells import GROSS_CENTS
from sim.hearing.study import SERVES, Cell
from sim.hearing.trials import EFFORT, Cure, badness, best_of
from sim.views.numbers import number, percent

MOST: Final = "95 of 100 accepted readings"


def advice(cells: Sequence[Cell], own: str, cures: Sequence[Cure], tolerance_cents: float) -> list[str]:
    """Return the sentences of a study, the rig's own detector first."""
    mine = [each for each in cells if each.detector == own]
    return [_own(own, mine, tolerance_cents), _best(cells), *_cures(cures)]


def _own(own: str, mine: Sequence[Cell], tolerance_cents: float) -> str:
    failing = [each for each in mine if each.verdict != SERVES]
    if not failing:
        worst = worst_of(mine)
        return (
            f"{own}, the rig's own detector, serves on {_listed([each.string for each in mine])}: {MOST} lie within "
            f"{_cents(worst)} cents on {worst.string}, the worst of them (tolerance {number(tolerance_cents)})."
        )
    serving = [each.string for each in mine if each.verdict == SERVES]
    but = f"serves on {_listed(serving)}, but fails on" if serving else "fails on"
    told = _listed([f"{each.string} ({_state(each)})" for each in failing])
    return f"{own}, the rig's own detector, {but} {told}; {MOST} should lie within {number(tolerance_cents)} cents."


def _cents(cell: Cell) -> str:
    """Return what 95 of 100 accepted readings stay below, rounded up so that what fails never looks like the limit."""
    return number(math.ceil(100.0 * cell.p95_cents) / 100.0, 4) if cell.accepted else "none"


def _state(cell: Cell) -> str:
    """Return how good a cell is: its errors, or what is worse than errors."""
    if cell.verdict == "seldom heard":
        return f"{percent(cell.accepted / cell.readings)} % heard"
    return cell.verdict if cell.fits is False or cell.verdict == "window too short" else f"{_cents(cell)} cents"


def best_for_all(cells: Sequence[Cell]) -> tuple[str, Cell] | None:
    """Return the detector that fits and serves best on its worst string, with that string's cell; None without one."""
    by_detector = {name: [each for each in cells if each.detector == name] for name in _names(cells)}
    worst = {
        name: worst_of(found)
        for name, found in by_detector.items()
        if all(each.fits is not False and each.accepted for each in found)
    }
    return min(worst.items(), key=lambda item: badness(item[1]), default=None)


def worst_of(cells: Sequence[Cell]) -> Cell:
    """Return the worst cell of one detector."""
    return max(cells, key=badness)


def _best(cells: Sequence[Cell]) -> str:
    sound = [each for each in cells if not each.p95_cents > GROSS_CENTS]
    by_string = {string: best_of([each for each in sound if each.string == string]) for string in _strings(cells)}
    names = {string: each.detector if each else "none" for string, each in by_string.items()}
    groups = [f"{name} on {_listed([s for s in names if names[s] == name])}" for name in dict.fromkeys(names.values())]
    best = f"Best of those that fit the processor: {_listed(groups)}"
    return f"{best}." if len(names) == 1 else f"{best}; for the whole instrument {_whole(cells)}"


def _whole(cells: Sequence[Cell]) -> str:
    whole = best_for_all(cells)
    if whole is None:
        return "none can be heard on all strings."
    nearest = whole[0] if whole[1].verdict == SERVES else f"none serves; {whole[0]} comes nearest"
    return f"{nearest} ({_state(whole[1])} on {whole[1].string}, its worst string)."


def _cures(cures: Sequence[Cure]) -> list[str]:
    """Return a sentence for each set of changes, with the strings that it is for."""
    groups: dict[tuple[tuple[str, ...], bool], list[Cure]] = {}
    for each in cures:
        groups.setdefault((each.best.changes, each.best.serves()), []).append(each)
    return [_cured(changes, serves, group) for (changes, serves), group in groups.items()]


def _cured(changes: tuple[str, ...], serves: bool, group: Sequence[Cure]) -> str:
    strings = _listed([each.before.cell.string for each in group])
    trial = f"(confirmed on {EFFORT.specimens} fresh machines, {EFFORT.plucks} plucks each)"
    if not changes:
        return f"On {strings} no change that was tried helps."
    result = _listed([_change(each) for each in group])
    what = f"On {strings}, {_listed(changes)}"
    if serves:
        return f"{what} would make it serve: {result} {trial}."
    return f"{what} would help most, and not enough: {result} {trial}."


def _change(cure: Cure) -> str:
    return f"{cure.before.cell.string} {_state(cure.best.cell)} instead of {_state(cure.before.cell)}"


def _names(cells: Sequence[Cell]) -> list[str]:
    return list(dict.fromkeys(each.detector for each in cells))


def _strings(cells: Sequence[Cell]) -> list[str]:
    return list(dict.fromkeys(each.string for each in cells))


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
