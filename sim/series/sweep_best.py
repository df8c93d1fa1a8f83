"""Searching a best setting: a quasi-random design, the poorer half dropped again and again, the winner run anew.

Settings that miss what is required rank behind all that meet it, by how far they miss. The first round runs every
setting on few machines; each further one keeps the better half and doubles the machines, runs already made included.
The number that is reported is the winner's on fresh seeds: of many settings the best-looking one was lucky, too.

Source: Sobol sequence with a random shift, Cranley & Patterson 1976 (SIAM J. Numer. Anal. 13, 904; from memory);
successive halving, Jamieson & Talwalkar 2016 (from memory).
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from scenarios.schema import Scenario
from sim.series.compare import Progress, compare
from sim.series.comparison import Comparison
from sim.series.grid import Rows
from sim.series.measures import BETTER, Tried, tried
from sim.series.require import required
from sim.series.statistics import resampled_ratio
from sim.series.summary import assumed, entry
from sim.series.sweep import Load, Size, chosen_strategies, setting, usual_of
from sim.series.sweep_axis import Axis, Number, SweepError
from sim.series.sweep_judge import shortfalls
from sim.series.sweep_region import mean_of

MOST_KEYS: Final = 6
ROUNDS: Final = 4
FRESH: Final = 1_000_003  # added to the seed for the winner's own runs
NAMES: Final = {name.removesuffix("_cents"): name for name in BETTER}
"""What ``--best`` takes, and the measure that is meant."""

Values = tuple[Number, ...]


def measure_of(name: str) -> str:
    """Return the measure that ``--best`` means. Raises ``SweepError`` for another word."""
    if name not in NAMES and name not in BETTER:
        raise SweepError(f"--best {name}: no such measure; allowed: {', '.join(NAMES)}")
    return NAMES.get(name, name)


def first_settings(axes: Sequence[Axis], seed: int) -> list[Values]:
    """Return the settings of the first round, spread evenly over all keys, each once: 16 for one key, 32 for two."""
    from scipy.stats import qmc

    power = 4 + (len(axes) - 1).bit_length()
    shift = np.random.Generator(np.random.Philox(seed)).random(len(axes))
    design = (qmc.Sobol(len(axes), scramble=False).random_base2(power) + shift) % 1.0
    settings = (tuple(axis.at(share) for axis, share in zip(axes, row, strict=True)) for row in design.tolist())
    return list(dict.fromkeys(settings))


def schedule(settings: int, specimens: int) -> list[tuple[int, int]]:
    """Return settings and specimens of each round: half of the settings, twice the specimens."""
    return [(max(1, settings >> place), max(1, specimens >> (ROUNDS - 1 - place))) for place in range(ROUNDS)]


def budget(settings: int, specimens: int, each: int) -> int:
    """Return the runs of a search, the winner's own included; ``each`` are the runs of one specimen."""
    plan = schedule(settings, specimens)
    before = [0, *(many for _, many in plan)]
    rounds = sum(many * (new - old) for (many, new), old in zip(plan, before, strict=False))
    return (rounds + specimens) * each


def search(
    load: Load, axes: Sequence[Axis], size: Size, measure: str, *, progress: Progress | None = None
) -> Comparison:
    """Return the winner's own runs on fresh seeds, with a summary of the search.

    Raises what ``compare`` raises, and ``RigError`` for values that a key does not take.
    """
    usual, rounds = usual_of(load), []
    alive = first_settings(axes, size.seed)
    before: tuple[list[Values], Rows] | None = None
    for place, (many, specimens) in enumerate(schedule(len(alive), size.specimens)):
        kept = alive[:many]
        scenarios = [setting(load, axes, values, usual) for values in kept]
        known = None if before is None else _moved(before, kept)
        found = _run(scenarios, axes, size, specimens, f"round-{place + 1}", known, progress)
        ranked = _ranked(found, kept, measure)
        alive, before = list(dict.fromkeys(values for values, _ in ranked)), (kept, found.rows)
        rounds.append({"settings": many, "specimens": specimens, "best": list(alive[0])})
    values, strategy = ranked[0]
    fresh = replace(size, seed=size.seed + FRESH, strategies=(strategy,))
    own = _run([setting(load, axes, values, usual)], axes, fresh, size.specimens, "winner", None, progress)
    told = _summary(own, axes, measure, values, usual=bool(usual)) | {"rounds": rounds, "searched_with_seed": size.seed}
    return replace(own, summary=told)


def _run(
    scenarios: Sequence[Scenario], axes: Sequence[Axis], size: Size, specimens: int, name: str, known: Rows | None,
    progress: Progress | None,
) -> Comparison:  # fmt: skip
    return compare(
        scenarios, strategies=chosen_strategies(axes, size.strategies), specimens=specimens, tunings=size.tunings,
        seed=size.seed, jobs=size.jobs, executor=size.executor, out=size.out / name if size.out else None,
        resume=size.resume, plugins=size.plugins, progress=progress, known=known,
        summarise=lambda grid, rows, seed: {},
    )  # fmt: skip


def _moved(before: tuple[Sequence[Values], Rows], kept: Sequence[Values]) -> Rows:
    """Return the rows of a round that belong to the settings kept, at their new places."""
    settings, rows = before
    places = np.array([kept.index(values) if values in kept else -1 for values in settings])
    moved = rows.copy()
    moved["rig"] = places[rows["rig"]]
    return moved[moved["rig"] >= 0]


def _ranked(found: Comparison, kept: Sequence[Values], measure: str) -> list[tuple[Values, str]]:
    """Return settings with their strategies, the best first."""
    series = tried(found.grid, found.rows)
    each = len(series) // len(kept)
    pairs = [(kept[place // each], one) for place, one in enumerate(series)]
    return [(values, one.name) for values, one in sorted(pairs, key=lambda pair: _rank(pair[1], measure))]


def _rank(one: Tried, measure: str) -> tuple[float, float]:
    return sum(shortfalls(one).values()), -BETTER[measure] * float(np.nanmean(mean_of(one, measure)))


def _summary(own: Comparison, axes: Sequence[Axis], measure: str, values: Values, *, usual: bool) -> dict[str, Any]:
    (one,) = tried(own.grid, own.rows)
    each = mean_of(one, measure)
    interval = resampled_ratio(each, np.ones(len(each)))
    return {
        "rig": one.facts.name.partition(",")[0],
        "axes": [axis.plain() for axis in axes],
        "measure": measure,
        "values": list(values),
        "strategy": one.name,
        "mean": float(np.nanmean(each)), "low": interval.low, "high": interval.high,
        "specimens": own.grid.specimens, "tunings": own.grid.tunings,
        "missed": shortfalls(one),
        "require": required(one),
        "wanted": one.facts.require,
        "usual": usual,
        **entry(one),
        "assumed": assumed(own.grid.rigs),
    }  # fmt: skip
