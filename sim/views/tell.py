"""One run told step by step: what was heard, what was decided, what moved."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from models.messages import Command, Done, GiveUp, Listen, Pluck, Reading, Spin, Stop, Turn
from sim.trace import Floats, Trace
from sim.views.numbers import NONE, signed
from sim.views.tables import Table

MOST_STEPS = 40  # lines of a run on a terminal


@dataclass(frozen=True, slots=True)
class Step:
    """One reading, the answer to it, and what moved until the next reading came."""

    reading: Reading
    command: Command
    turned_deg: float
    """Turn of the motor's shaft until the next reading, positive = tightening."""
    regrips: int
    true_cents: float
    """True error when the reading arrived; nan when slack or broken."""


def steps(trace: Trace) -> list[Step]:
    """Return the steps of a run, in order of arrival."""
    arrivals = [reading.arrival_s for reading in trace.readings]
    spans = pairwise([*arrivals, max([trace.end_s, *arrivals])])
    return [
        Step(
            reading=reading,
            command=command,
            turned_deg=_at(trace, trace.shaft_deg, end_s) - _at(trace, trace.shaft_deg, begin_s),
            regrips=sum(begin_s <= at_s < end_s for at_s in trace.regrips_s),
            true_cents=_at(trace, trace.error_cents(), begin_s),
        )
        for (begin_s, end_s), reading, (_, command) in zip(spans, trace.readings, trace.commands, strict=True)
    ]


def told(trace: Trace, *, hide_truth: bool) -> Table:
    """Return the steps as a table; with ``hide_truth`` only what the machine itself could know."""
    return Table(
        f"{trace.string} at {trace.target_hz:.2f} Hz, tolerance {trace.tolerance_cents:g} cents",
        ("at s", "pluck", "heard\ncents", "answer", "shaft\nturned deg") + (() if hide_truth else ("true\ncents",)),
        tuple(_row(step, hide_truth) for step in steps(trace)),
        left=0,
    )


def shortened(table: Table) -> Table:
    """Return a table whose middle rows are left out where it is long."""
    left_out = len(table.rows) - MOST_STEPS
    if left_out <= 0:
        return table
    gap = ("...", *("" for _ in table.columns[1:]))
    half = MOST_STEPS // 2
    title = f"{table.title}; {left_out} steps in the middle left out (all: --out DIR)"
    return Table(title, table.columns, (*table.rows[:half], gap, *table.rows[-half:]), table.left)


def _row(step: Step, hide_truth: bool) -> tuple[str, ...]:
    reading = step.reading
    known = (
        f"{reading.arrival_s:.2f}",
        str(reading.pluck),
        "not heard" if reading.cents is None else signed(reading.cents),
        said(step.command) + (f", {step.regrips} re-grips" if step.regrips else ""),
        signed(step.turned_deg) if step.turned_deg else NONE,
    )
    return known if hide_truth else (*known, signed(step.true_cents))


def said(command: Command) -> str:
    """Return a command in words, with its number and unit."""
    match command:
        case Turn(angle_deg=angle):
            return f"turn {angle:+.1f} deg"
        case Spin(speed_deg_s=speed):
            return f"spin {speed:+.1f} deg/s"
        case GiveUp(reason=reason):
            return f"give up: {reason}"
        case Done() | Stop() | Pluck() | Listen():
            return {Done: "done", Stop: "stop", Pluck: "pluck again", Listen: "listen on"}[type(command)]


def _at(trace: Trace, values: Floats, at_s: float) -> float:
    return float(np.interp(at_s, trace.t_s, values))
