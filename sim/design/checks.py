"""What a machine must be able to do with a string: a need against what there is for it."""

import math
from collections.abc import Callable
from typing import NamedTuple

from scenarios.schema import Scenario
from sim.design.facts import Facts


class Needs(NamedTuple):
    """A need, and what there is; both in the unit of the check."""

    need: float
    have: float

    def margin(self) -> float:
        """Return how many times the need is met; infinite where nothing is needed."""
        if self.need <= 0.0:
            return math.inf
        return 0.0 if math.isinf(self.need) else self.have / self.need


class Check(NamedTuple):
    """One thing that must be possible."""

    unit: str
    asks: str
    """What is needed, in words."""
    has: str
    """What there is, in words."""
    needs: Callable[[Scenario, Facts], Needs]


def largest_move_deg(scenario: Scenario, string: str) -> float:
    """Return the largest turn that some strategy allows itself on one reading."""
    return max(float(strategy.drivings[string].nominal().largest_move_deg) for strategy in scenario.strategies)


def _reserve(scenario: Scenario, facts: Facts) -> Needs:
    return Needs(largest_move_deg(scenario, facts.string) * facts.cents_per_knob_deg, facts.reserve_cents)


def _step(scenario: Scenario, facts: Facts) -> Needs:
    return Needs(facts.step_cents, 2.0 * scenario.task.tolerance_cents)


def _tighten(scenario: Scenario, facts: Facts) -> Needs:
    return Needs(1e3 * facts.torque_up_nm, 1e3 * facts.used_torque_nm)


def _loosen(scenario: Scenario, facts: Facts) -> Needs:
    driven = facts.torque_down_nm >= 0.0
    return Needs(1e3 * abs(facts.torque_down_nm), 1e3 * (facts.used_torque_nm if driven else facts.holding_torque_nm))


def _travel(scenario: Scenario, facts: Facts) -> Needs:
    return Needs(facts.semitone_deg, facts.first_stroke_deg)


def _time(scenario: Scenario, facts: Facts) -> Needs:
    return Needs(facts.semitone_s, scenario.task.time_limit_s)


def _ear(scenario: Scenario, facts: Facts) -> Needs:
    return Needs(facts.finish_cents, scenario.task.tolerance_cents)


def _supply(scenario: Scenario, facts: Facts) -> Needs:
    return Needs(facts.brown_out_v, facts.lowest_v)


BATTERY = "battery"
"""Check of all strings together, beside those of each string."""

CHECKS = {
    "reserve": Check("cents", "the largest single move", "reserve up to breaking", _reserve),
    "step": Check("cents", "the smallest step", "band of two tolerances", _step),
    "tighten": Check("mN m", "torque to tighten", "torque against which the motor starts", _tighten),
    "loosen": Check("mN m", "torque to loosen or to hold", "torque of the motor", _loosen),
    "travel": Check("deg", "turn over a semitone", "travel before the first re-grip", _travel),
    "time": Check("s", "a semitone", "time limit", _time),
    "ear": Check("cents", "95 of 100 means of the finishing readings lie within", "tolerance", _ear),
    "supply": Check("V", "brown-out of the unit", "lowest voltage at the supply", _supply),
}
"""In the order of the sheet."""
