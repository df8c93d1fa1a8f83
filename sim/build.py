"""From frozen data to objects: the only place that wires."""

import math
from dataclasses import dataclass

from controllers.base import Controller
from controllers.unit import ControllerUnit, Unit
from controllers.wrappers.finish import Finish
from controllers.wrappers.largest_move import LargestMove
from controllers.wrappers.retry import Retry
from models.coupler import Coupler, Coupling
from models.drive import Machine
from models.drivetrain import Angles, Chain, chain
from models.head.base import TuningHead
from models.head.nut import Friction, friction, mirrored
from models.hearing.acceptance import Acceptance
from models.hearing.base import Ear
from models.messages import Task
from models.player import Player
from models.unit_power import UnitPower
from models.units import shifted
from scenarios.schema import Driving, Scenario, Strategy
from sim.seeds import Streams, run_key
from sim.specimen import Draw, as_built


@dataclass(frozen=True, slots=True)
class Rig:
    """One specimen as built, with one string under the drive."""

    string: str
    chain: Chain
    machine: Machine
    """Motor, supply and coupler; a hand may re-grip where the head holds the string meanwhile."""
    power: UnitPower
    relaxation_share: float
    """Share of the nut's hold that one pluck takes away."""
    player: Player
    ear: Ear
    acceptance: Acceptance
    task: Task
    head: TuningHead
    """The machine is taken to know which way it tightens."""

    def begins(self, start_cents: float) -> Angles:
        """Return the drive train with the string ``start_cents`` from its target, tightened last.

        A string cannot be tighter than its breaking tension.
        """
        start_hz = shifted(self.chain.string.target_hz, start_cents)
        tension = min(self.chain.string.tension_at_hz(start_hz), self.chain.string.breaking_n)
        return self.chain.at(tension, self.machine.motor.rest().angle_deg)


@dataclass(frozen=True, slots=True)
class Plan:
    """One strategy on one string: the controller in its wrappers, and how it is driven."""

    controller: Controller
    driving: Driving

    def unit(self) -> Unit:
        """Return a fresh machine with this controller in it."""
        return ControllerUnit(self.controller)


def build(scenario: Scenario, string: str, streams: Streams | None = None, specimen: int = 0) -> Rig:
    """Return one specimen with ``string`` under the drive; without streams the nominal one."""

    def shared(key: str) -> float:
        return 0.5 if streams is None else streams.uniform(key, specimen)

    def own(key: str) -> float:
        return shared(f"{string} {key}")

    head: TuningHead = scenario.heads[string].drawn(own)
    motor, coupler, power = scenario.motor.drawn(shared), scenario.coupler.drawn(shared), scenario.unit.drawn(shared)
    built, held = as_built(scenario, string, own), _held(scenario, string, own)
    return Rig(
        string=string,
        chain=chain(built, head.mechanism(), _coupling(coupler, motor.slop_deg()), held),
        machine=Machine(
            motor=motor,
            supply=scenario.supply.drawn(shared),
            brown_out_v=power.brown_out_v,
            regrip=coupler.regrip and head.self_locking(),
        ),
        power=power,
        relaxation_share=scenario.nuts[string].drawn(own).relaxation_share,
        player=scenario.player.drawn(shared),
        ear=_ear(scenario, string, streams, specimen, shared),
        acceptance=scenario.acceptance.drawn(shared),
        task=scenario.task,
        head=head,
    )


def _held(scenario: Scenario, string: str, own: Draw) -> Friction | None:
    """Return friction at nut and saddle, seen from the end of the string that the head pulls."""
    part, head = scenario.strings[string].drawn(own), scenario.heads[string].drawn(own)
    ea_n, speaking_m, total_m = part.axial_stiffness_kn * 1e3, part.length_mm * 1e-3, part.total_length_mm * 1e-3
    held = friction(scenario.nuts[string].drawn(own), ea_n, speaking_m, total_m)
    return mirrored(held) if held is not None and head.pulls_behind_saddle() else held


def _coupling(coupler: Coupler, motor_slop_deg: float) -> Coupling:
    half_deg = (coupler.slop_deg + motor_slop_deg) / 2.0
    return Coupling(half_deg, coupler.compliance_deg_per_nm, coupler.slip_torque_nm or math.inf)


def _ear(scenario: Scenario, string: str, streams: Streams | None, specimen: int, shared: Draw) -> Ear:
    if scenario.ear == "signal":
        from sim.ears import build_ear

        return build_ear(scenario, string, streams, specimen, shared)
    statistical: Ear = scenario.ears[string].drawn(shared)
    return statistical


def start_cents(scenario: Scenario, string: str, streams: Streams, specimen: int, tuning: int) -> float:
    """Return the pitch error with which one tuning begins."""
    uniform = streams.start_uniform(string, run_key(specimen, tuning))
    cents: float = scenario.setting.value("start_cents", lambda key: uniform)
    return cents


def plan(scenario: Scenario, strategy: Strategy, string: str) -> Plan:
    """Return a strategy's controller for one string inside its wrappers, innermost first: clamp, finish, retry."""
    driving: Driving = strategy.drivings[string].nominal()
    inner: Controller = strategy.controllers[string].nominal()
    clamped = LargestMove(inner, driving.largest_move_deg)
    finishing = Finish(clamped, scenario.task.tolerance_cents, scenario.task.finish_readings)
    return Plan(Retry(finishing, driving.most_missed), driving)
