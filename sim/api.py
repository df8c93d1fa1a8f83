"""What a notebook uses: one run or a comparison, from names of rigs, paths, or scenarios."""

from dataclasses import dataclass
from functools import cached_property
from html import escape
from pathlib import Path
from typing import Any

from scenarios.load import load_rig
from scenarios.schema import Hearing, Scenario
from sim.evaluate import trace_of
from sim.metrics import measures
from sim.series.compare import Comparison
from sim.series.compare import compare as compare_scenarios
from sim.trace import Trace

Rig = str | Path | Scenario


@dataclass(frozen=True)
class RunResult:
    """One tuning of one string: all that happened, and its measures."""

    strategy: str
    trace: Trace

    @cached_property
    def measures(self) -> dict[str, float]:
        """Return every measure of the run by name, as ``sim.metrics`` defines them."""
        return measures(self.trace)

    def __repr__(self) -> str:
        found = self.measures
        told = "in tune" if found["in_tune"] else "not in tune"
        return (
            f"<run of {self.trace.string} by {self.strategy}: {self.trace.outcome.name.lower().replace('_', ' ')}, "
            f"{told} at {found['final_error_cents']:+.1f} cents, {found['plucks']} plucks, {found['seconds']:.1f} s>"
        )

    def _repr_html_(self) -> str:
        rows = "".join(f"<tr><td>{name}</td><td>{value:g}</td></tr>" for name, value in self.measures.items())
        return f"<p>{escape(repr(self))}</p><table>{rows}</table><p>{escape(self.trace.outcome.value)}</p>"


def run(
    rig: Rig = "default",
    strategy: str | None = None,
    string: str | None = None,
    seed: int = 1,
    ear: Hearing = "statistical",
) -> RunResult:
    """Tune one string once and return the result; the rig's first strategy and string unless named.

    ``ear`` is the one that a rig from a file listens with; a ``Scenario`` has been loaded with its own. Raises
    ``scenarios.load.RigError`` for a bad rig file and ``KeyError`` for an unknown strategy or string.
    """
    scenario = _scenario(rig, ear)
    chosen = strategy or scenario.strategies[0].name
    return RunResult(chosen, trace_of(scenario, chosen, string or next(iter(scenario.strings)), seed=seed))


def compare(*rigs: Rig, ear: Hearing = "statistical", **options: Any) -> Comparison:
    """Compare rigs and strategies on the same specimens, plucks and noise; options as ``sim.series.compare.compare``.

    Without a rig: the ready rig ``default``. Raises ``scenarios.load.RigError`` for a bad rig file.
    """
    return compare_scenarios(tuple(_scenario(rig, ear) for rig in rigs or ("default",)), **options)


def _scenario(rig: Rig, ear: Hearing) -> Scenario:
    return rig if isinstance(rig, Scenario) else load_rig(rig, ear=ear)
