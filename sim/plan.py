"""A strategy on one string: its controller inside its wrappers, and how the machine is driven."""

from dataclasses import dataclass
from typing import Final

from controllers.base import Controller
from controllers.unit import ControllerUnit, Unit
from controllers.wrappers.find_sense import FindSense
from controllers.wrappers.finish import Finish
from controllers.wrappers.largest_move import LargestMove
from controllers.wrappers.retry import Retry
from scenarios.schema import Driving, Scenario, Strategy
from sim.build import build

PROBE_CENTS: Final = 15.0  # rise that a move to find the sense goes for (estimate: several times an ear's spread)
PROBE_LEAST_CENTS: Final = 6.0  # change that is believed
PROBE_MOST: Final = 4.0  # times the rise hoped for; more is a wrong reading
PROBE_RESERVE: Final = 0.25  # share of the reserve that a string may be sharp by, and that the move may take


@dataclass(frozen=True, slots=True)
class Plan:
    """One strategy on one string: the controller in its wrappers, and how it is driven."""

    controller: Controller
    driving: Driving

    def unit(self) -> Unit:
        """Return a fresh machine with this controller in it."""
        return ControllerUnit(self.controller)


def plan(scenario: Scenario, strategy: Strategy, string: str) -> Plan:
    """Return a strategy's controller for one string inside its wrappers.

    Innermost first: clamp, sense of turning where it is not known, finish, retry.
    """
    driving: Driving = strategy.drivings[string].nominal()
    inner: Controller = LargestMove(strategy.controllers[string].nominal(), driving.largest_move_deg)
    if scenario.heads[string].values["tightens"] == "unknown":
        inner = finding_sense(inner, scenario, string)
    finishing = Finish(inner, scenario.task.tolerance_cents, scenario.task.finish_readings)
    return Plan(Retry(finishing, driving.most_missed), driving)


def finding_sense(inner: Controller, scenario: Scenario, string: str) -> FindSense:
    """Return a controller that finds out first which way the knob tightens, by a move that the string's reserve allows.

    The move takes up all slop and goes for ``PROBE_CENTS`` beyond, but for no more than a quarter of the reserve.
    """
    chain = build(scenario, string).chain
    tension_n = chain.string.tension_at_hz(chain.string.target_hz)
    cents_per_deg, spare_cents = chain.cents_per_knob_deg(tension_n), PROBE_RESERVE * chain.string.reserve_cents()
    lost_deg = 2.0 * chain.half_slop_deg + chain.reversal_deg(tension_n)
    probe_deg = min(lost_deg + PROBE_CENTS / cents_per_deg, max(0.0, spare_cents) / cents_per_deg)
    most_cents = PROBE_MOST * max(PROBE_CENTS, probe_deg * cents_per_deg)
    return FindSense(inner, probe_deg, spare_cents, PROBE_LEAST_CENTS, most_cents)
