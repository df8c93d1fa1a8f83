"""Limits of guards, derived from a rig by stated rules: above what a sound machine does, below what breaks a string.

What the rig file gives stands in place of what is derived.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from controllers.guards import GUARDS
from controllers.guards.base import Guard
from models.component import resolve
from models.drivetrain import Chain
from scenarios.errors import shown
from scenarios.schema import Part, Scenario, Strategy
from sim.build import Rig, build
from sim.design.current_limit import Derived, of_current, tells
from sim.design.healthy import MARGIN_CENTS, starts

CEILING_CENTS: Final = 150.0  # above the highest of target and starts
RESERVE_SHARE: Final = 0.5  # of the reserve that a ceiling may take
BUDGET_FACTOR: Final = 1.5  # times the way from the lowest to the highest start
LARGER: Final = 1.1  # than the largest turn that a strategy gives
SILENT_READINGS: Final = 6  # missed in a row, at the player's slowest
REJECTED: Final = 3
MOVE_S: Final = 10.0  # a large move with its re-grips (estimate)
LEAST_CENTS: Final = 15.0  # change that an ear tells from its own spread (estimate)


@dataclass(frozen=True, slots=True)
class Limit:
    """A guard with its parameters, and how they follow from the rig."""

    guard: Guard
    rule: str


def default_guards(scenario: Scenario, strategy: Strategy, string: str, machine: Rig | None = None) -> dict[str, Guard]:
    """Return every guard that a rig can have on a string, its limits derived; without those whose sensor it lacks."""
    return {name: limit.guard for name, limit in limits(scenario, strategy, string, machine).items()}


def limits(scenario: Scenario, strategy: Strategy, string: str, machine: Rig | None = None) -> dict[str, Limit]:
    """Return every guard that a rig can have on a string with the rule that gave its numbers.

    Of two guards of one kind in the rig file the last one counts.
    """
    given = {kind_of(part): part.values for part in scenario.guards.values()}
    found = derived(scenario, strategy, string, machine)
    return {kind: _limit(kind, found[kind], given.get(kind, {})) for kind in found}


def named_guards(scenario: Scenario, strategy: Strategy, string: str, machine: Rig | None = None) -> dict[str, Guard]:
    """Return the guards of the rig file on a string by the names that it gives them.

    Raises ``ValueError`` for a kind that the rig cannot have there (see ``sim.design.guard_refusals``).
    """
    found = derived(scenario, strategy, string, machine) if scenario.guards else {}
    kinds = {name: kind_of(part) for name, part in scenario.guards.items()}
    if without := [f"guards.{name}: {string} cannot have {kind}" for name, kind in kinds.items() if kind not in found]:
        raise ValueError("; ".join(without))
    return {name: _limit(kind, found[kind], scenario.guards[name].values).guard for name, kind in kinds.items()}


def why_absent(kind: str) -> str:
    """Return why a rig cannot have a kind of guard that is not among its ``derived``."""
    if kind == "pitch-ceiling":
        return "the string breaks below its target"
    return "the motor has no current, or none that tells a breaking string from a sound one"


def kind_of(part: Part) -> str:
    """Return the kind of a guard of the rig file, as ``GUARDS`` lists it."""
    place = f"{part.kind.__module__}:{part.kind.__name__}"
    return next(kind for kind, known in GUARDS.items() if known == place)


def _limit(kind: str, derived: tuple[dict[str, Any], str], given: Mapping[str, Any]) -> Limit:
    values, rule = derived
    if not given:
        return Limit(resolve(GUARDS, kind)(**values), rule)
    told = ", ".join(f"{key} = {shown(value)}" for key, value in given.items())
    rest = "" if set(values) <= set(given) else f"; else {rule}"
    return Limit(resolve(GUARDS, kind)(**{**values, **given}), f"{told}: given in the rig file{rest}")


def derived(scenario: Scenario, strategy: Strategy, string: str, machine: Rig | None = None) -> Derived:
    """Return the parameters of every guard that a rig can have on a string, and their rules, as the rig gives them.

    Limits of current and voltage are set on ``machine``; None takes the nominal one.
    """
    rig, driving = build(scenario, string), strategy.drivings[string].nominal()
    low, high = starts(scenario)
    by_name = {
        **_of_turns(rig.chain, driving.largest_move_deg, low, high),
        **_of_readings(rig.chain, low, high),
        **_of_time(scenario, rig),
        "power-up": ({}, "no number: armed by the first reading"),
        **(of_current(machine or rig, high) if tells(rig, high) else {}),
    }
    return {kind: by_name[kind] for kind in GUARDS if kind in by_name}


def _slope(chain: Chain) -> float:
    return chain.cents_per_knob_deg(chain.string.tension_at_hz(chain.string.target_hz))


def _lost_deg(chain: Chain) -> float:
    """Return what slop and the nut take of a change of direction."""
    return 2.0 * chain.half_slop_deg + chain.reversal_deg(chain.string.tension_at_hz(chain.string.target_hz))


def _seen(low: float, high: float) -> tuple[float, float]:
    """Return between what errors a reading makes sense."""
    return low - MARGIN_CENTS, max(high, 0.0) + MARGIN_CENTS


def _of_turns(chain: Chain, largest_deg: float, low: float, high: float) -> Derived:
    way_deg = (high - min(low, 0.0)) / _slope(chain) + _lost_deg(chain)
    least, most = _seen(low, high)
    spent = {
        "most_deg": BUDGET_FACTOR * way_deg, "cents_per_deg": _slope(chain), "low_cents": least, "high_cents": most
    }  # fmt: skip
    return {
        "largest-turn": (
            {"most_deg": LARGER * largest_deg},
            f"{LARGER:g} times the strategy's largest move of {largest_deg:g} deg",
        ),
        "tightening-budget": (
            spent,
            f"{BUDGET_FACTOR:g} times the way from {min(low, 0.0):g} to {high:g} cents and slop, {way_deg:.0f} deg",
        ),
        "hand-switch": (
            {"most_deg": max(2.0 * largest_deg, 360.0)},
            "twice the largest move, a whole turn at least",
        ),
    }


def _of_readings(chain: Chain, low: float, high: float) -> Derived:
    reserve, slope, (least, most) = chain.string.reserve_cents(), _slope(chain), _seen(low, high)
    answers = {"cents_per_deg": slope, "least_cents": max(LEAST_CENTS, 2.0 * _lost_deg(chain) * slope)}
    rule = f"{slope:.2f} cents a degree at the target; twice the slop does not count"
    most_cents = min(max(high, 0.0) + CEILING_CENTS, RESERVE_SHARE * reserve)
    ceiling = (
        {"most_cents": most_cents},
        f"{CEILING_CENTS:g} above every start, at most half the reserve of {reserve:.0f}",
    )
    return {
        **({"pitch-ceiling": ceiling} if most_cents > 0.0 else {}),
        "no-response": (answers, rule),
        "wrong-direction": (answers, rule),
        "rejected-readings": (
            {"low_cents": least, "high_cents": most, "in_a_row": REJECTED},
            f"{REJECTED} in a row outside {least:g} to {most:g} cents: the starts and {MARGIN_CENTS:g} more",
        ),
    }


def _of_time(scenario: Scenario, rig: Rig) -> Derived:
    ear = rig.ear
    round_s = rig.player.pluck_time_s(3.0) + ear.skip_s + ear.window_s + ear.computing_s + ear.link_s + MOVE_S
    silent_s = SILENT_READINGS * round_s
    return {
        "silence": (
            {"most_silent_s": silent_s, "most_s": scenario.task.time_limit_s},
            f"{SILENT_READINGS} rounds of pluck, move and reading at the slowest; the task's own limit",
        )
    }
