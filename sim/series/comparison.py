"""What a comparison gives back: rows, summary and words."""

from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

from sim.series.grid import Grid, Rows
from sim.series.measures import tried
from sim.series.sentences import percent, sentences
from sim.trace import Outcome

CAUTION = "Intervals cover chance in this simulation, not errors of the model."


@dataclass(frozen=True, slots=True, repr=False)
class Comparison:
    """Strategies of one or several rigs on the same specimens, plucks and noise."""

    grid: Grid
    """Which runs were made, with the facts of each rig."""
    rows: Rows
    """One row a run, in run order: specimen, rig, string, strategy, tuning."""
    summary: dict[str, Any]
    """What was found, as in ``summary.json``."""

    def sentences(self) -> list[str]:
        """Return the findings in words."""
        return sentences(tried(self.grid, self.rows))

    def crashed(self) -> int:
        """Return how many runs crashed."""
        return int(np.count_nonzero(self.rows["outcome"] == list(Outcome).index(Outcome.CRASHED)))

    def __repr__(self) -> str:
        tuned = ((one.name, one.all_runs()["in_tune"]) for one in tried(self.grid, self.rows))
        shares = ", ".join(f"{name} {np.count_nonzero(flags)} of {flags.size}" for name, flags in tuned)
        return f"<Comparison of {len(self.rows)} runs, in tune: {shares}>"

    def _repr_html_(self) -> str:
        if "in_tune" not in (self.summary.get("strategies") or [{}])[0]:
            return f"<p>{len(self.rows)} runs; found, in summary: {escape(', '.join(self.summary))}</p><p>{CAUTION}</p>"
        head = "<tr><th>rig</th><th>strategy</th><th>in tune</th><th>95 % interval</th><th>plucks, median</th></tr>"
        body = "".join(_html_row(entry) for entry in self.summary["strategies"])
        words = "".join(f"<li>{escape(sentence)}</li>" for sentence in self.sentences())
        return f"<table>{head}{body}</table><ul>{words}</ul><p>{CAUTION}</p>"


def _counted(share: dict[str, Any]) -> str:
    return f"{share['count']} of {share['of']}"


def _html_row(entry: dict[str, Any]) -> str:
    share, median = entry["in_tune"], entry["plucks"]["median"]
    interval = f"{percent(share['low'])} to {percent(share['high'])}"
    plucks = "beyond limit" if median is None else f"{median:g}"
    cells = (entry["rig"], entry["name"], _counted(share), interval, plucks)
    return f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"
