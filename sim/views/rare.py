"""Rare breaking as a table and in sentences that say what is claimed."""

from typing import Final

from sim.design.clamp import Clamp
from sim.series.rare import Estimate, Rare
from sim.views.tables import Table

CONDITIONAL: Final = (
    "Conditional on the noise model: normal and octave errors of the ear as the rig states them; faults are left out. "
    "Intervals cover chance in this simulation, not errors of the model. "
    "A simulation is no proof of safety."
)


def table(found: Rare) -> Table:
    """Return one row a proposal; without rows where the clamp forbids breaking."""
    columns = (
        "drawn from",
        "broke, of",
        "probability\nof breaking",
        "95 % interval",
        "relative\nerror",
        "effective\nruns",
    )
    title = f"{found.string} by {found.strategy}: how often a run of a healthy, noisy rig breaks the string"
    return Table(title, columns, tuple(_row(each) for each in found.estimates))


def sentences(found: Rare) -> list[str]:
    """Return what is claimed, how sure that is, and on what condition."""
    said = [] if found.clamp is None else [_forbidden(found.clamp)]
    return [*said, CONDITIONAL] if found.unreachable else [*said, _estimated(found), CONDITIONAL]


def _row(one: Estimate) -> tuple[str, ...]:
    counts = f"{one.broke} of {one.runs}"
    if not one.broke:
        return (one.proposal, counts, "-", f"at most {one.high:.2g}", "-", "0")
    interval = f"{one.low:.2g} to {one.high:.2g}" if one.resolved else "not resolved"
    return (
        one.proposal,
        counts,
        f"{one.probability:.2g}",
        interval,
        f"{one.relative_error:.2f}",
        f"{one.effective_runs:.0f}",
    )


def _forbidden(clamp: Clamp) -> str:
    turn = f"at most {clamp.move_deg:g} deg"
    spare = (
        f"{clamp.spare_deg:.0f} deg break the string from the highest pitch, in the worst corner of the rig's ranges"
    )
    if clamp.forbids_all:
        return f"Unreachable: {clamp.turns} turns of {turn} add up to less, whatever is read; {spare}."
    if clamp.forbids_one:
        return f"One wrong reading cannot break it: it turns {turn}; {spare}. Several in a row may."
    return f"One wrong reading may break it: it turns {turn}; {spare}."


def _estimated(found: Rare) -> str:
    best = found.best
    if found.at_most is not None:
        return (
            f"No string broke: fewer than {found.at_most:.2g} in a run, at 95 %. A smaller bound takes more machines."
        )
    if best is None:
        return f"Not resolved: ask for more runs. By plain runs at most {found.estimates[0].high:.2g} of them break it."
    return (
        f"A run breaks the string with probability {best.probability:.2g} ({best.low:.2g} to {best.high:.2g}, relative "
        f"error {best.relative_error:.2f}, drawn from {best.proposal}); {_second(found)}."
    )


def _second(found: Rare) -> str:
    if not found.agree:
        return "the resolved estimates disagree: trust none of them"
    several = sum(one.resolved for one in found.estimates) > 1
    return "the resolved estimates agree" if several else "no second estimate is resolved: ask for more runs"
