"""Theory beside simulation, and why they differ: an effect is switched off in the rig, and both are asked again."""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Any, Final, NamedTuple

from scenarios.schema import Part, Range, Scenario
from sim.corners import course
from sim.design.theory import OPEN, Theory, plucks_and_share, theory_of
from sim.design.theory_loop import slopes
from sim.evaluate import Bench
from sim.metrics import measured
from sim.series.row import Item
from sim.trace import Course

RUNS: Final = 24  # tunings, each of another machine from another start
PLUCKS_OFF, PLUCKS_SHARE, ENDED_OFF, ERROR_SHARE, SWING_SHARE = 2.0, 0.25, 0.25, 0.1, 0.25
STATED: Final = (
    f"* differs: plucks by more than {PLUCKS_OFF:g} and {PLUCKS_SHARE:.0%}, finished by more than {ENDED_OFF:.0%} of "
    f"all; error and swing are bounds, and differ when more than {ERROR_SHARE:.0%} and {SWING_SHARE:.0%} beyond."
)
UNEXPLAINED: Final = "not explained"
FREE_DEG: Final = 1e5  # a largest move that limits nothing
Switch = Callable[[Scenario, str], Scenario]
Progress = Callable[[int, int], None]
"""Called with the checks done and the checks in all."""


class Numbers(NamedTuple):
    """What is compared."""

    plucks: float
    """Median; a tuning that does not finish counts as infinitely many."""
    finished_share: float
    error_cents: float
    """95 of 100 finished tunings are within; nan where none finished."""
    swing_cents: float
    """Peak to peak of the pitch in the second half of tunings that do not finish; nan where all did."""


@dataclass(frozen=True, slots=True)
class Check:
    """One strategy on one string: predicted for the very starts that were simulated."""

    strategy: str
    string: str
    predicted: Numbers
    simulated: Numbers
    differs: tuple[str, ...]
    """Fields of ``Numbers`` that are further apart than stated."""
    why: tuple[str, ...]
    """The effect without which they agree best; where it takes several, as few as do."""


def verify(scenario: Scenario, found: Sequence[Theory], seed: int = 1, progress: Progress | None = None) -> list[Check]:
    """Return theory beside simulation, for all that was ``found`` and is not open; ``progress`` hears of each check."""
    told = [each for each in found if each.rests != OPEN]
    checks = []
    for each in told:
        checks.append(_check(scenario, each, seed))
        if progress is not None:
            progress(len(checks), len(told))
    return checks


def plain(check: Check) -> dict[str, Any]:
    """Return a check as data for JSON."""
    return {
        "strategy": check.strategy,
        "string": check.string,
        "tunings": RUNS,
        "predicted": check.predicted._asdict(),
        "simulated": check.simulated._asdict(),
        "differs": list(check.differs),
        "why": list(check.why),
    }


def _check(scenario: Scenario, found: Theory, seed: int) -> Check:
    predicted, simulated = _both(scenario, found.strategy, found.string, seed)
    apart = differing(predicted, simulated)
    why = _why(scenario, found.strategy, found.string, seed) if apart else ()
    return Check(found.strategy, found.string, predicted, simulated, apart, why)


def differing(predicted: Numbers, simulated: Numbers) -> tuple[str, ...]:
    """Return the fields in which a simulation is further from a prediction than stated."""
    return tuple(name for name, times in distances(predicted, simulated).items() if times > 1.0)


def distances(predicted: Numbers, simulated: Numbers) -> dict[str, float]:
    """Return how far each field is off, as times of what is stated; 0 where one of both has no such number."""
    off = {
        "plucks": _times(simulated.plucks, predicted.plucks, PLUCKS_OFF, PLUCKS_SHARE),
        "finished_share": abs(simulated.finished_share - predicted.finished_share) / ENDED_OFF,
        "error_cents": max(0.0, simulated.error_cents / predicted.error_cents - 1.0) / ERROR_SHARE,
        "swing_cents": max(0.0, simulated.swing_cents / predicted.swing_cents - 1.0) / SWING_SHARE,
    }
    return {name: 0.0 if math.isnan(times) else times for name, times in off.items()}


def _times(found: float, predicted: float, least: float, share: float) -> float:
    """Return a difference as times of the larger of ``least`` and a share of the prediction."""
    if found == predicted:
        return 0.0
    if math.isinf(found) or math.isinf(predicted):
        return math.inf
    return abs(found - predicted) / max(least, share * predicted)


def _why(scenario: Scenario, strategy: str, string: str, seed: int) -> tuple[str, ...]:
    """Return the effect without which theory holds best; where it takes several, as few as do."""

    def left(names: Collection[str]) -> float:
        """Return how far theory is off without these effects, infinitely where further than stated."""
        found = distances(*_both(_without(scenario, string, names), strategy, string, seed)).values()
        return sum(found) if max(found) <= 1.0 else math.inf

    alone = {name: left((name,)) for name in EFFECTS}
    best = min(alone, key=alone.__getitem__)
    if alone[best] < math.inf:
        return (best,)
    needed = tuple(EFFECTS)
    if left(needed) == math.inf:
        return (UNEXPLAINED,)
    for name in reversed(tuple(EFFECTS)):
        fewer = tuple(each for each in needed if each != name)
        needed = fewer if left(fewer) < math.inf else needed
    return needed


def _without(scenario: Scenario, string: str, names: Collection[str]) -> Scenario:
    for name in names:
        scenario = EFFECTS[name](scenario, string)
    return scenario


def _both(scenario: Scenario, strategy: str, string: str, seed: int) -> tuple[Numbers, Numbers]:
    """Return what theory predicts and what simulation finds, for the same starts."""
    place = [each.name for each in scenario.strategies].index(strategy)
    bench = Bench((scenario,), seed)
    items = [Item(0, place, tuple(scenario.strings).index(string), specimen, 0) for specimen in range(RUNS)]
    found = theory_of(scenario, scenario.strategies[place], string, slopes(scenario, string))
    starts = [bench.start_cents(item) for item in items]
    return _predicted(found, starts), _simulated([course(bench.unguarded(item)) for item in items])


def _predicted(found: Theory, starts: Sequence[float]) -> Numbers:
    plucks, share = plucks_and_share(found.claim, found.loop, starts)
    cycle = found.cycle()
    return Numbers(plucks, share, found.error_cents, math.nan if cycle is None else cycle.swing_cents)


def _simulated(courses: Sequence[Course]) -> Numbers:
    runs = [measured(each) for each in courses]
    plucks = median(run["plucks"] if run["finished"] else math.inf for run in runs)
    errors = sorted(abs(run["final_error_cents"]) for run in runs if run["finished"])
    swings = [_swing(each) for each, run in zip(courses, runs, strict=True) if not run["finished"]]
    return Numbers(
        plucks=plucks,
        finished_share=len(errors) / len(runs),
        error_cents=errors[math.ceil(0.95 * len(errors)) - 1] if errors else math.nan,
        swing_cents=median(swings) if swings else math.nan,
    )


def _swing(found: Course) -> float:
    late = [error for at_s, error in zip(found.t_s, found.error_cents, strict=True) if at_s >= found.end_s / 2.0]
    return max(late) - min(late)


def _zero(part: Part, *keys: str) -> Part:
    return replace(part, values={**part.values, **{key: 0.0 for key in keys if key in part.values}})


def _tight(scenario: Scenario, string: str) -> Scenario:
    heads = {**scenario.heads, string: _zero(scenario.heads[string], "backlash_deg")}
    coupler = _zero(scenario.coupler, "slop_deg", "compliance_deg_per_nm")
    return replace(scenario, coupler=coupler, heads=heads, motor=_zero(scenario.motor, "output_slop_deg"))


def _smooth(scenario: Scenario, string: str) -> Scenario:
    nut = _zero(scenario.nuts[string], "friction", "saddle_friction")
    return replace(scenario, nuts={**scenario.nuts, string: nut})


def _exact(scenario: Scenario, string: str) -> Scenario:
    ear = _zero(scenario.ears[string], *ERRORS)
    return replace(scenario, ears={**scenario.ears, string: ear})


def _fine(scenario: Scenario, string: str) -> Scenario:
    del string
    keys = ("resolution_deg", "pulse_step_us", "pulse_deadband_us", "droop_band_deg")
    return replace(scenario, motor=_zero(scenario.motor, *keys))


def _unlimited(scenario: Scenario, string: str) -> Scenario:
    free: dict[str, Any] = {"largest_move_deg": FREE_DEG}
    strategies = (
        replace(each, drivings={**each.drivings, string: _with(each.drivings[string], free)})
        for each in scenario.strategies
    )
    return replace(scenario, strategies=tuple(strategies))


def _known(scenario: Scenario, string: str) -> Scenario:
    """Return the rig with each range at its middle, but for where strings start."""
    shared = {name: _middle(getattr(scenario, name)) for name in ("coupler", "motor", "supply", "unit", "player")}
    own = {
        name: {**getattr(scenario, name), string: _middle(getattr(scenario, name)[string])}
        for name in ("strings", "heads", "nuts", "creeps", "climates", "ears")
    }
    changes: dict[str, Any] = shared | own
    return replace(scenario, **changes)


def _middle(part: Part) -> Part:
    return _with(part, {
        key: (value.low + value.high) / 2.0 for key, value in part.values.items() if isinstance(value, Range)
    })  # fmt: skip


def _with(part: Part, values: Mapping[str, Any]) -> Part:
    return replace(part, values={**part.values, **values})


ERRORS: Final = (
    "run_cents", "pluck_cents", "wander_cents", "reading_cents", "bias_cents", "glide_cents", "glide_run_cents",
    "octave_low_share", "octave_high_share", "wild_share", "missed_share", "resolution_hz", "clock_ppm",
)  # fmt: skip
EFFECTS: Final[Mapping[str, Switch]] = {
    "play": _tight,
    "friction": _smooth,
    "noise": _exact,
    "motor step": _fine,
    "largest move": _unlimited,
    "unknown values": _known,
}
"""What theory leaves out, and the rig without it."""
