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
        """Return how many times the need is met; infinite where nothing is needed, or a motor stands for ever.

        A motor that stands is the business of its torque, not of its time.
        """
        return self.have / self.need if 0.0 < self.need < math.inf else math.inf


class Check(NamedTuple):
    """One thing that must be possible."""

    unit: str
    needs: Callable[[Scenario, Facts], Needs]


def largest_move_deg(scenario: Scenario, string: str) -> float:
    """Return the largest turn that some strategy allows itself on one reading."""
    return max(float(str(strategy.drivings[string].values["largest_move_deg"])) for strategy in scenario.strategies)


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
    "reserve": Check("cents", _reserve),
    "step": Check("cents", _step),
    "tighten": Check("mN m", _tighten),
    "loosen": Check("mN m", _loosen),
    "travel": Check("deg", _travel),
    "time": Check("s", _time),
    "ear": Check("cents", _ear),
    "supply": Check("V", _supply),
}
"""In the order of the sheet."""
