"""A strategy on one string: its controller inside its wrappers, and how the machine is driven."""

import math
from dataclasses import dataclass
from typing import Final

from controllers.base import Controller
from controllers.belief import told
from controllers.unit import ControllerUnit, Unit
from controllers.wrappers.deadband import Deadband
from controllers.wrappers.find_sense import FindSense
from controllers.wrappers.finish import Finish
from controllers.wrappers.finish_from_below import FinishFromBelow
from controllers.wrappers.largest_move import LargestMove
from controllers.wrappers.median import Median
from controllers.wrappers.retry import Retry
from controllers.wrappers.slew import Slew
from controllers.wrappers.take_up import TakeUp
from scenarios.schema import Driving, Scenario, Strategy, Wrapping
from sim.build import build
from sim.design.strung import taut
from sim.isolated import Isolated, apart

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
    """Return a strategy's controller for one string inside its wrappers, in the order that ``Wrapping`` states."""
    driving: Driving = strategy.drivings[string].nominal()
    wrapping: Wrapping = strategy.wrappings[string].nominal()
    inner: Controller = LargestMove(wrapped(law(scenario, strategy, string), wrapping), driving.largest_move_deg)
    if scenario.heads[string].values["tightens"] == "unknown":
        inner = finding_sense(inner, scenario, string)
    inner = Finish(inner, scenario.task.tolerance_cents, scenario.task.finish_readings)
    if wrapping.median_of > 1:
        inner = Median(inner, wrapping.median_of)
    return Plan(Retry(inner, driving.most_missed), driving)


def law(scenario: Scenario, strategy: Strategy, string: str) -> Controller:
    """Return a strategy's bare controller for one string; it believes the nominal rig where it has no belief.

    One from a user's file works in a process apart.
    """
    return apart(told(strategy.controllers[string].nominal(), believed_cents_per_deg(scenario, string)))


def believed_cents_per_deg(scenario: Scenario, string: str) -> float:
    """Return the slope of pitch over the shaft's angle at the target, each range of the rig at its middle.

    The body gives way where a run is a session.
    """
    chain = (taut(scenario, [string])[string] if scenario.whole else build(scenario, string)).chain
    return chain.cents_per_knob_deg(chain.string.tension_at_hz(chain.string.target_hz))


def wrapped(inner: Controller, wrapping: Wrapping) -> Controller:
    """Return a controller inside those wrappers that a strategy asks for and that stand next to its law."""
    if wrapping.deadband_cents:
        inner = Deadband(inner, wrapping.deadband_cents)
    if wrapping.finish_from_below_deg:
        inner = FinishFromBelow(inner, wrapping.finish_from_below_deg)
    if wrapping.take_up_deg:
        inner = TakeUp(inner, wrapping.take_up_deg)
    if wrapping.slew_deg or wrapping.slew_deg_s:
        inner = Slew(inner, wrapping.slew_deg or math.inf, wrapping.slew_deg_s or math.inf)
    return inner


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


def check_apart(scenario: Scenario, strategy: Strategy, string: str) -> str:
    """Check a user's own controller against the contract, in its process; return what it printed.

    Raises ``Failed`` for a breach.
    """
    controller = law(scenario, strategy, string)
    assert isinstance(controller, Isolated)
    return controller.check()
