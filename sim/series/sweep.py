"""One rig under several values of one or two keys, on the same specimens, plucks and noise."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial
from itertools import product
from pathlib import Path
from typing import Any, Final

import numpy as np

from scenarios.schema import Scenario
from sim.series.compare import Progress, compare
from sim.series.comparison import Comparison
from sim.series.plugins import Plugin
from sim.series.row import ROW
from sim.series.statistics import CONFIDENCE
from sim.series.store import held_specimens
from sim.series.sweep_axis import Axis, Number, SweepError
from sim.series.sweep_judge import contradictions
from sim.series.sweep_summary import summarise
from sim.series.until import AT_EACH, until

Load = Callable[[tuple[str, ...]], Scenario]
"""``KEY=VALUE`` changes to the rig with them; raises ``RigError``."""
USUAL: Final = "require={}"  # the library's requirements, where the rig has none


@dataclass(frozen=True, slots=True)
class Size:
    """How much is run, and where it is kept."""

    specimens: int = 60
    """With fewer than 59 no 95th percentile has an upper bound."""
    tunings: int = 4
    """Of six strings: 24 runs a machine, so that one that fails still leaves 95 in 100."""
    seed: int = 1
    strategies: tuple[str, ...] | None = None
    """None: those whose own keys are varied, or all."""
    jobs: int | None = None
    executor: Executor | None = None
    out: Path | None = None
    resume: bool = False
    plugins: tuple[Plugin, ...] = ()
    width: float | None = None
    """Widest interval of a share in tune that is wanted; None takes ``specimens`` as they are."""


def settings(load: Load, axes: Sequence[Axis]) -> list[Scenario]:
    """Return the rig at every setting, the last key changing fastest.

    A rig without ``[require]`` gets the library's usual one. Raises ``RigError`` for values that a key does not take.
    """
    usual = usual_of(load)
    return [setting(load, axes, values, usual) for values in product(*(axis.values for axis in axes))]


def usual_of(load: Load) -> tuple[str, ...]:
    """Return the change that brings the library's requirements into a rig that has none; else nothing."""
    return () if load(()).require else (USUAL,)


def setting(load: Load, axes: Sequence[Axis], values: Sequence[Number], usual: tuple[str, ...]) -> Scenario:
    """Return the rig at one setting, named after it."""
    changes = tuple(f"{axis.key}={value!r}" for axis, value in zip(axes, values, strict=True))
    scenario = load((*usual, *changes))
    return replace(scenario, name=", ".join([scenario.name, *changes]))


def chosen_strategies(axes: Sequence[Axis], asked: tuple[str, ...] | None) -> tuple[str, ...] | None:
    """Return the strategies asked for; else those whose own keys are varied, None for all."""
    own = [axis.key.split(".")[1] for axis in axes if axis.key.startswith("strategies.")]
    return asked or tuple(dict.fromkeys(own)) or None


def see_possible(scenarios: Sequence[Scenario]) -> None:
    """Raise ``SweepError`` when requirements contradict each other or the rig at every setting."""
    first = contradictions(scenarios[0])
    if first and all(map(contradictions, scenarios[1:])):
        raise SweepError(f"no setting can meet {'; '.join(first)}")


def idle(scenarios: Sequence[Scenario], axes: Sequence[Axis], size: Size) -> list[str]:
    """Return the keys that change no run in a first trial: two specimens at the ends of each key."""
    found, stride = [], len(scenarios)
    for axis in axes:
        stride //= len(axis.values)
        ends = [scenarios[0], scenarios[stride * (len(axis.values) - 1)]]
        if not axis.key.startswith("require.") and not _differ(ends, axes, size):
            found.append(axis.key)
    return found


def _differ(ends: Sequence[Scenario], axes: Sequence[Axis], size: Size) -> bool:
    strategies = chosen_strategies(axes, size.strategies)
    tried = compare(
        ends, strategies=strategies, specimens=2, tunings=1, seed=size.seed, jobs=1, plugins=size.plugins,
        summarise=lambda grid, rows, seed: {},
    ).rows  # fmt: skip
    one, other = (tried[tried["rig"] == place] for place in (0, 1))
    names = [name for name in ROW.names or () if name != "rig"]
    return any(not np.array_equal(one[name], other[name], equal_nan=one[name].dtype.kind == "f") for name in names)


def sweep(
    scenarios: Sequence[Scenario], axes: Sequence[Axis], size: Size, *, usual: bool, progress: Progress | None = None
) -> Comparison:
    """Run every setting and return rows and summary; ``usual`` says that the requirements are the library's.

    With a width: specimens are added by the rule of ``sim.series.until``. Raises what ``compare`` raises.
    """
    confidence = CONFIDENCE if size.width is None else AT_EACH
    told = partial(summarise, axes=tuple(axes), usual=usual, confidence=confidence)
    options: Mapping[str, Any] = {
        "strategies": chosen_strategies(axes, size.strategies), "tunings": size.tunings, "seed": size.seed,
        "jobs": size.jobs, "executor": size.executor, "out": size.out, "plugins": size.plugins, "progress": progress,
        "summarise": told,
    }  # fmt: skip
    if size.width is None:
        return compare(scenarios, specimens=size.specimens, resume=size.resume, **options)
    held = held_specimens(size.out) if size.out and size.resume else 0

    def look(specimens: int, before: Comparison | None) -> Comparison:
        known = None if before is None else before.rows
        more = size.resume or before is not None
        return compare(scenarios, specimens=max(specimens, held), known=known, resume=more, **options)

    found, narrow = until(size.width, size.specimens, look, widest)
    return replace(found, summary=found.summary | {"until": {"width": size.width, "reached": narrow}})


def widest(found: Comparison) -> float:
    """Return the width of the widest interval of a share in tune."""
    shares = [point["in_tune"] for point in found.summary["points"]]
    return max(float(share["high"] - share["low"]) for share in shares)
