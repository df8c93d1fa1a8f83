"""From frozen data to objects: the only place that wires."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from models.coupler import Coupler, Twist
from models.drive import Machine, Stand
from models.drivetrain import Chain, chain
from models.faults.base import Built, Fault
from models.head.base import TuningHead
from models.head.held import held
from models.hearing.acceptance import Acceptance
from models.hearing.base import Ear
from models.messages import Task
from models.player import Player
from models.strings.drift import drift
from models.unit_power import UnitPower
from models.units import shifted
from scenarios.schema import Part, Scenario
from sim.faulty import faulty
from sim.specimen import Draw, as_built

if TYPE_CHECKING:
    from sim.seeds import Streams


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
    """Also says which way the knob tightens; a machine that does not know it finds out."""
    faults: Mapping[str, Fault]
    """What is wrong with it, by name."""
    altered: bool
    """Whether a fault changed it before the run."""
    delay_s: float
    """Time that every reading takes longer than the machine counts on."""

    def begins(self, start_cents: float) -> Stand:
        """Return the machine at rest with the string ``start_cents`` from its target, tightened last.

        A string cannot be tighter than its breaking tension.
        """
        start_hz = shifted(self.chain.string.target_hz, start_cents)
        tension = min(self.chain.string.tension_at_hz(start_hz), self.chain.string.breaking_n)
        shaft = self.machine.motor.rest()
        return Stand(self.chain.at(tension, shaft.angle_deg), shaft)


def build(
    scenario: Scenario, string: str, streams: "Streams | None" = None, specimen: int = 0, give_m_n: float = 0.0
) -> Rig:
    """Return one specimen with ``string`` under the drive; without streams the nominal one, which has no faults.

    ``give_m_n`` is how far the body gives way per force of this string, as if the string were ``EA`` times that longer.
    """
    found = sound(scenario, string, streams, specimen, give_m_n)
    return found if streams is None else defective(found, scenario.faults, streams, specimen)


def sound(
    scenario: Scenario, string: str, streams: "Streams | None" = None, specimen: int = 0, give_m_n: float = 0.0
) -> Rig:
    """Return the specimen of ``build`` without its faults."""

    def shared(key: str) -> float:
        return 0.5 if streams is None else streams.uniform(key, specimen)

    return drawn(scenario, string, shared, _ear(scenario, string, streams, specimen, shared), give_m_n)


def defective(sound: Rig, parts: Mapping[str, Part], streams: "Streams", specimen: int) -> Rig:
    """Return a specimen with its faults; those of the rig have happened before the run."""

    def own(key: str) -> float:
        return streams.uniform(f"{sound.string} {key}", specimen)

    faults: dict[str, Fault] = {name: part.drawn(own) for name, part in parts.items()}
    draws = {name: own(f"faults.{name}") for name in faults}
    begins = Built(sound.chain, sound.machine, sound.delay_s)
    built = faulty(faults, begins, draws)
    return replace(sound, faults=faults, altered=built is not begins, **built._asdict())


def drawn(scenario: Scenario, string: str, shared: Draw, ear: Ear, give_m_n: float = 0.0) -> Rig:
    """Return a sound specimen whose unknowns ``shared`` draws by dotted keys, heard by ``ear``; see ``build``."""

    def own(key: str) -> float:
        return shared(f"{string} {key}")

    head: TuningHead = scenario.heads[string].drawn(own)
    motor, coupler, power = scenario.motor.drawn(shared), scenario.coupler.drawn(shared), scenario.unit.drawn(shared)
    built, nut = as_built(scenario, string, own, give_m_n), scenario.nuts[string].drawn(own)
    grooves = held(scenario.strings[string].drawn(own), head, nut, built.ea_n * give_m_n)
    aging = drift(built, scenario.creeps[string].drawn(own), scenario.climates[string].drawn(shared))
    machine = Machine(
        motor=motor,
        supply=scenario.supply.drawn(shared),
        brown_out_v=power.brown_out_v,
        regrip=coupler.regrip and head.self_locking(),
        sense=-1 if head.tightens == "unknown" and own("head.sense") < 0.5 else 1,
        unit_a=power.current_a,
    )
    return Rig(
        string=string,
        chain=chain(
            built, head.mechanism(), _twist(coupler, motor.slop_deg()), grooves, aging, coupler.stop_deg or math.inf
        ),
        machine=machine,
        power=power,
        relaxation_share=nut.relaxation_share,
        player=scenario.player.drawn(shared),
        ear=ear,
        acceptance=scenario.acceptance.drawn(shared),
        task=scenario.task,
        head=head,
        faults={},
        altered=False,
        delay_s=0.0,
    )


def _twist(coupler: Coupler, motor_slop_deg: float) -> Twist:
    half_deg = (coupler.slop_deg + motor_slop_deg) / 2.0
    return Twist(half_deg, coupler.compliance_deg_per_nm, coupler.slip_torque_nm or math.inf)


def _ear(scenario: Scenario, string: str, streams: "Streams | None", specimen: int, shared: Draw) -> Ear:
    if scenario.ear == "signal":
        from sim.ears import build_ear

        return build_ear(scenario, string, streams, specimen, shared)
    statistical: Ear = scenario.ears[string].drawn(shared)
    return statistical


def start_cents(scenario: Scenario, string: str, streams: "Streams", specimen: int, tuning: int) -> float:
    """Return the pitch error with which one tuning begins."""
    from sim.seeds import run_key  # it needs numpy, which the design sheet does without

    uniform = streams.start_uniform(string, run_key(specimen, tuning))
    cents: float = scenario.setting.value("start_cents", lambda key: uniform)
    return cents
