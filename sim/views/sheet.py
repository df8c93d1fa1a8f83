"""The design sheet as tables of 80 columns and as findings in sentences."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict
from typing import Any

from models.messages import Task
from scenarios.schema import Scenario
from sim.design.charge import COUNTED
from sim.design.checks import BATTERY, CHECKS
from sim.design.facts import Facts
from sim.design.rows import ENOUGH, Change, Row
from sim.design.sheet import Sheet
from sim.views.numbers import NONE, number
from sim.views.tables import Table

Cells = Callable[[Facts], tuple[str, ...]]
SHORT = {"fits": "fits", "tight": "tight", "does not fit": "no"}
WORDS = {
    "reserve": ("the largest single move is", "the string breaks at"),
    "step": ("the smallest step is", "the band of two tolerances"),
    "tighten": ("tightening needs", "the motor starts against"),
    "loosen": ("loosening or holding needs", "the motor has"),
    "travel": ("a semitone turns the shaft by", "before the first re-grip there are"),
    "time": ("a semitone takes", "the time limit is"),
    "ear": ("95 of 100 means of the finishing readings lie within", "the tolerance is"),
    "supply": ("the unit resets below", "the supply falls to"),
    BATTERY: ("a tuning of all strings takes", "a charge gives"),
}
"""What is needed, and what there is for it, by check."""
JUDGED = (
    f"fits: the need is met {ENOUGH:g} times in the middle of all ranges and once in their worst corner; tight: "
    "met, with less than that, or only with re-grips; no: does not fit."
)


def tables(sheet: Sheet, scenario: Scenario) -> list[Table]:
    """Return all tables of a sheet."""
    task = scenario.task
    return [
        _strings(sheet, scenario.setting.nominal().a4_hz), _steps(sheet, task), _torques(sheet), _travel(sheet),
        _hearing(sheet, task),
    ]  # fmt: skip


def _strings(sheet: Sheet, a4_hz: float) -> Table:
    title = f"Strings at pitch, A4 = {a4_hz:g} Hz, middle of all ranges"
    columns = ("string", "target", "Hz", "tension\nN", "% of\nbreaking", "reserve\ncents", "largest\nmove, cents",
               "fits?")  # fmt: skip
    needs = {row.string: row.need for row in sheet.rows if row.check == "reserve"}
    return _table(sheet, title, columns, ("reserve",), lambda facts: (
        facts.note, f"{facts.target_hz:.2f}", number(facts.tension_n), number(facts.percent_of_breaking),
        f"{facts.reserve_cents:.0f}", number(needs.get(facts.string)),
    ))  # fmt: skip


def _steps(sheet: Sheet, task: Task) -> Table:
    title = f"Smallest step, against a band of {2.0 * task.tolerance_cents:g} cents (two tolerances)"
    columns = ("string", "cents per\nknob deg", "shaft\ndeg", "pitch\ncents", "set by", "nut slips\ncents",
               "reversal\nloses deg", "fits?")  # fmt: skip
    return _table(sheet, title, columns, ("step",), lambda facts: (
        number(facts.cents_per_knob_deg), number(facts.motor_step_deg), number(facts.step_cents), facts.step_set_by,
        number(facts.slip_cents), number(facts.reversal_deg),
    ))  # fmt: skip


def _torques(sheet: Sheet) -> Table:
    columns = ("string", "to\ntighten", "to\nloosen", "starts,\nfresh", "starts,\nused", "holds", "tight-\nens?",
               "loos-\nens?")  # fmt: skip
    title = "Torque at the knob in mN m, against that of the motor on a fresh and on a used supply"
    return _table(sheet, title, columns, ("tighten", "loosen"), lambda facts: tuple(
        number(1e3 * torque) for torque in (
            facts.torque_up_nm, facts.torque_down_nm, facts.fresh_torque_nm, facts.used_torque_nm,
            facts.holding_torque_nm,
        )
    ))  # fmt: skip


def _travel(sheet: Sheet) -> Table:
    columns = ("string", "semitone\ndeg", "travel\ndeg", "re-\ngrips", "seconds", "slack to\npitch, turns",
               "re-\ngrips", "travel\nfits?", "time\nfits?")  # fmt: skip
    title = "Travel up to the first re-grip; seconds of a semitone with re-grips, at the torque at pitch"
    return _table(sheet, title, columns, ("travel", "time"), lambda facts: (
        number(facts.semitone_deg), number(facts.first_stroke_deg), _count(facts.semitone_regrips),
        number(facts.semitone_s), number(facts.slack_turns), _count(facts.slack_regrips),
    ))  # fmt: skip


def _hearing(sheet: Sheet, task: Task) -> Table:
    columns = ("string", "one reading\ncents", f"mean of {task.finish_readings}\ncents", "tolerance\ncents", "fits?")
    title = "Hearing: 95 of 100 lie within (statistical ear, gross errors left out)"
    return _table(sheet, title, columns, ("ear",), lambda facts: (
        number(facts.reading_cents), number(facts.finish_cents), f"{task.tolerance_cents:g}",
    ))  # fmt: skip


def _table(sheet: Sheet, title: str, columns: tuple[str, ...], checks: tuple[str, ...], cells: Cells) -> Table:
    judged = {(row.string, row.check): SHORT[row.verdict] for row in sheet.rows}
    rows = tuple(
        (facts.string, *cells(facts), *(judged.get((facts.string, check), NONE) for check in checks))
        for facts in sheet.facts
    )
    return Table(title, columns, rows)


def _count(regrips: int | None) -> str:
    return "not" if regrips is None else str(regrips)


def findings(sheet: Sheet) -> list[str]:
    """Return what the sheet says in sentences, what does not fit first."""
    judged = [("does not fit", check) for check in (*CHECKS, BATTERY)] + [("tight", check) for check in CHECKS]
    groups = (tuple(row for row in sheet.rows if (row.verdict, row.check) == group) for group in judged)
    found = [_sentence(rows, sheet) for rows in groups if rows]
    return [*found, *_friction(sheet), *_life(sheet)] or ["Everything fits."]


def _sentence(rows: Sequence[Row], sheet: Sheet) -> str:
    least = min(rows, key=lambda row: row.margin)
    judged = "is tight" if least.verdict == "tight" else least.verdict
    return f"{least.check} {judged}{_where(rows, sheet)}: {_numbers(least)}.{_mended(rows, sheet)}"


def _where(rows: Sequence[Row], sheet: Sheet) -> str:
    return "" if rows[0].check == BATTERY else f" on {_listed([row.string for row in rows], sheet)}"


def _numbers(row: Row) -> str:
    asks, has = WORDS[row.check]
    place = "" if row.check == BATTERY else f" on {row.string}"
    return (
        f"{asks} {number(row.need)} {row.unit}{place}, {has} {number(row.have)} {row.unit} "
        f"({_times(row.margin)} times; worst corner {_times(row.worst_margin)})"
    )


def _times(margin: float) -> str:
    return number(margin, 2)


def _mended(rows: Sequence[Row], sheet: Sheet) -> str:
    """Return what would mend all rows of a group."""
    if rows[0].verdict == "tight":
        return _regrips(rows, sheet) if rows[0].check == "travel" else ""
    changes = common(rows)
    if not changes:
        return " No single value within its range mends it."
    return f" Smallest change: {' or '.join(_change(change) for change in changes[:2])}."


def common(rows: Iterable[Row]) -> list[Change]:
    """Return the changes that mend all of some rows, the smallest first."""
    by_key = [{change.key: change for change in row.changes} for row in rows]
    shared = set.intersection(*(set(keys) for keys in by_key))
    largest = (max((keys[key] for keys in by_key), key=_size) for key in sorted(shared))
    return sorted(largest, key=_size)


def _size(change: Change) -> float:
    return abs(math.log(change.times))


def _change(change: Change) -> str:
    spoils = f" (then {' and '.join(change.spoils)} would not fit)" if change.spoils else ""
    unit = f" {change.unit}" if change.unit else ""
    return f"{change.key} = {number(change.value, 4)}{unit}, {number(change.times)} times what it is{spoils}"


def _regrips(rows: Sequence[Row], sheet: Sheet) -> str:
    found = [facts for facts in sheet.facts if facts.string in {row.string for row in rows}]
    low, high = (end(facts.stroke_cents for facts in found) for end in (min, max))
    semitone, slack = (max(counts) for counts in zip(*map(_grips, found), strict=True))
    return (
        f" The whole travel covers {low:.0f} to {high:.0f} cents, half of it lies ahead at first: up to {semitone} "
        f"re-grips in a semitone, {slack} from slack."
    )


def _grips(facts: Facts) -> tuple[int, int]:
    return facts.semitone_regrips or 0, facts.slack_regrips or 0


def _friction(sheet: Sheet) -> list[str]:
    stuck = [facts for facts in sheet.facts if facts.step_set_by == "friction slip"]
    if not stuck:
        return []
    most = max(stuck, key=lambda facts: facts.slip_cents)
    return [
        f"Friction sets the step on {_listed([facts.string for facts in stuck], sheet)}: the pitch jumps by "
        f"{number(most.slip_cents)} cents at a time on {most.string}, and no finer motor helps."
    ]


def _life(sheet: Sheet) -> list[str]:
    if sheet.life is None or not 0.0 < sheet.life.tunings() < math.inf:
        return []
    life = sheet.life
    return [
        f"A charge gives some {number(float(f'{life.tunings():.2g}'))} tunings of all strings, "
        f"{number(life.tuning_c)} C each of {number(life.usable_c)} C. {COUNTED}"
    ]


def _listed(strings: Sequence[str], sheet: Sheet) -> str:
    return "all strings" if len(strings) == len(sheet.facts) > 1 else ", ".join(strings)


def as_data(sheet: Sheet, scenario: Scenario) -> dict[str, Any]:
    """Return the sheet as plain data, units in the keys or beside the numbers."""
    life = sheet.life
    return {
        "rig": scenario.name,
        "instrument": scenario.instrument,
        "verdict": sheet.verdict(),
        "enough_times": ENOUGH,
        "strings": [asdict(facts) for facts in sheet.facts],
        "rows": [asdict(row) for row in sheet.rows],
        "battery": None if life is None else asdict(life) | {"tunings": life.tunings()},
        "findings": findings(sheet),
    }
