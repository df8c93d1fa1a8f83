"""Guards of a rig file that cannot do what they are for: no sensor, or a limit that comes after breaking."""

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from controllers.guards import GUARDS
from models.drivetrain import Chain
from models.units import shifted
from scenarios.errors import listed
from scenarios.schema import GIVEN, Part, Scenario, Strategy
from sim.build import build
from sim.design.current_limit import breaking_a
from sim.design.guard_limits import derived, kind_of, named_guards, why_absent
from sim.design.healthy import starts

HALVINGS: Final = 50
NO_TURN: Final = 1e-9
KINDS_OF_ONE: Final = "guards.{}  two guards of kind {}; faults tries one of each kind"


class Bound(NamedTuple):
    """Beyond what a limit comes too late."""

    key: str
    unit: str
    of: Callable[[Scenario, str], float]
    """Of a string, in the middle of all ranges; infinite where nothing breaks it."""
    why: str


class _Beyond(NamedTuple):
    limit: float
    bound: float
    string: str


def guard_refusals(
    scenario: Scenario, strategies: Sequence[Strategy], strings: Collection[str] | None = None
) -> Iterator[str]:
    """Give a line for each guard that the rig cannot have, or whose given limit lies beyond breaking."""
    if scenario.guards and scenario.whole:
        yield "guards  found in a session; allowed: strings by themselves; leave out --session or [guards]"
    for name, part in scenario.guards.items():
        if "kind" in part.sources and (why := lacking(scenario, kind_of(part), strings)):
            yield f"{_place(part, 'kind')}  guards.{name}.kind  {why}"
        elif why := _beyond(scenario, name, strategies, strings, given=True):
            yield f"{_place(part, BOUNDS[kind_of(part)].key)}  guards.{name}.{why}"


def guard_doubts(scenario: Scenario) -> Iterator[str]:
    """Give a line for each guard whose derived limit lies beyond breaking."""
    for name in scenario.guards:
        if why := _beyond(scenario, name, scenario.strategies, None, given=False):
            yield f"guards.{name}.{why}; derived from the rig"


def twice(scenario: Scenario) -> Iterator[str]:
    """Give a line for each guard of a kind that the rig file has already, where one of each kind is tried."""
    seen = set[str]()
    for name, part in scenario.guards.items():
        if kind_of(part) in seen:
            yield KINDS_OF_ONE.format(name, kind_of(part))
        seen.add(kind_of(part))


def lacking(scenario: Scenario, kind: str, strings: Collection[str] | None = None) -> str:
    """Return why some of the strings (all, or those named) cannot have a kind of guard; empty where they can."""
    can = {string: derived(scenario, scenario.strategies[0], string) for string in strings or scenario.strings}
    without = [string for string, known in can.items() if kind not in known]
    if not without:
        return ""
    allowed = listed(each for each in GUARDS if all(each in known for known in can.values()))
    return f"found {kind}; {why_absent(kind)}, on {listed(without)}; allowed: {allowed}"


def _place(part: Part, key: str) -> str:
    return part.sources.get(key, "").removeprefix(GIVEN)


def _beyond(
    scenario: Scenario, name: str, strategies: Sequence[Strategy], strings: Collection[str] | None, *, given: bool
) -> str:
    """Return what is wrong with a given (or else a derived) limit on the string that it fits least; or nothing."""
    part = scenario.guards[name]
    bound = BOUNDS.get(kind_of(part))
    if bound is None or (bound.key in part.sources) is not given or lacking(scenario, kind_of(part), strings):
        return ""
    alone, found = replace(scenario, guards={name: part}), list[_Beyond]()
    for string in strings or scenario.strings:
        most = bound.of(scenario, string)
        limits = [getattr(named_guards(alone, strategy, string)[name], bound.key) for strategy in strategies]
        found += [_Beyond(limit, most, string) for limit in limits]
    worst = max(found, key=lambda each: each.limit / each.bound)
    if worst.limit < worst.bound:
        return ""
    if worst.bound < NO_TURN:
        return (
            f"{bound.key}  found {worst.limit:g} {bound.unit}; {worst.string} is at its breaking tension as it starts"
        )
    allowed = _rounded_down(worst.bound)
    return (
        f"{bound.key}  found {worst.limit:g} {bound.unit}; {allowed} {bound.unit} {bound.why.format(worst.string)}; "
        f"allowed: below {allowed}"
    )


def _rounded_down(bound: float) -> str:
    """Return a number to three digits that is not above it."""
    step = 10.0 ** (math.floor(math.log10(bound)) - 2)
    return f"{math.floor(bound / step) * step:.4g}"


def reserve_cents(scenario: Scenario, string: str) -> float:
    """Return how far above its target a string breaks."""
    return build(scenario, string).chain.string.reserve_cents()


def breaking_turn_deg(scenario: Scenario, string: str) -> float:
    """Return the turn of the shaft in one go that breaks a string from its lowest start; infinite where none does."""
    chain, low = build(scenario, string).chain, starts(scenario)[0]
    begins_n = chain.string.tension_at_hz(shifted(chain.string.target_hz, low))
    return _breaking_deg(chain, min(begins_n, chain.string.breaking_n))


def _breaking_deg(chain: Chain, begins_n: float) -> float:
    begins = chain.at(begins_n, 0.0)
    whole, broken = 0.0, 2.0 * (chain.string.breaking_n - begins_n) * chain.ratio / chain.newton_per_deg + 360.0
    if not chain.broken(chain.follow(begins, broken)):
        return math.inf
    for _ in range(HALVINGS):
        middle = (whole + broken) / 2.0
        whole, broken = (whole, middle) if chain.broken(chain.follow(begins, middle)) else (middle, broken)
    return broken


_TURN: Final = Bound("most_deg", "deg", breaking_turn_deg, "break {} from its lowest start")
BOUNDS: Final = {
    "pitch-ceiling": Bound("most_cents", "cents", reserve_cents, "above its target {} breaks"),
    "tightening-budget": _TURN,
    "largest-turn": _TURN,
    "hand-switch": _TURN,
    "motor-current": Bound("most_a", "A", breaking_a, "is the motor's current as {} breaks, or near its stall"),
}
"""By kind of guard: the limit that must lie below breaking."""
