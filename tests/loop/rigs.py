"""Rigs made in Python for tests of the loop: an ideal machine whose every number is known."""

from dataclasses import replace
from typing import Any, NamedTuple

from controllers.base import Controller
from controllers.wrappers.finish import Finish
from controllers.wrappers.retry import Retry
from models.coupler import Twist
from models.drive import Machine
from models.drivetrain import chain
from models.head.gear import Head
from models.hearing.acceptance import Acceptance
from models.hearing.statistical import StatisticalEar
from models.messages import Source, Task
from models.motors.ideal import IdealMotor
from models.player import Player
from models.strings.tension import String, strung
from models.unit_power import UnitPower
from models.units import midi_hz
from scenarios.schema import Driving
from sim.build import Rig
from sim.loop import Record, simulate
from sim.plan import Plan
from sim.seeds import Chance, Streams

E4 = String(
    target="E4", gauge_mm=0.254, core_mm=0.254, length_mm=648.0, total_length_mm=750.0, unit_weight_g_per_m=0.397765,
    axial_stiffness_kn=10.134, bending_stiffness_gpa=0.0, strength_mpa=2668.3, knot_factor=0.85, t60_s=5.0,
)  # fmt: skip
HEAD = Head(
    ratio=14.0, post_radius_mm=2.873, lead_angle_deg=6.0, worm_friction=0.15, backlash_deg=1.0,
    post_friction_nmm=10.0, tightens="clockwise",
)  # fmt: skip
EAR = StatisticalEar(
    hears="first-partial", window_s=0.02, hop_s=0.01, skip_s=0.05, computing_s=0.0, link_s=0.0, run_cents=0.0,
    pluck_cents=0.0, wander_cents=0.0, reading_cents=0.0, bias_cents=0.0, glide_cents=0.0, glide_run_cents=0.0,
    glide_s=0.3, wild_share=0.0, wild_cents=600.0, periodicity_most=1.0, fresh_snr_db=60.0, floor_snr_db=-20.0,
    octave_low_share=0.0, octave_high_share=0.0, missed_share=0.0, resolution_hz=0.0, clock_ppm=0.0,
)  # fmt: skip
OPEN = Acceptance(
    order="", most_clipped_share=1.0, least_peak_share=0.0, least_periodicity=0.0, gate_cents=600.0, agree_readings=2,
    agree_cents=20.0, median_readings=3,
)  # fmt: skip
TASK = Task(tolerance_cents=3.0, finish_readings=1, time_limit_s=3600.0, pluck_limit=200, pitch="first-partial")
PLAYER = Player(pluck_s=1.0, pluck_spread=0.0, level_spread_db=0.0, regrip_s=2.0)
DRIVING = Driving(driving="step", dead_time_s=0.1, readings_per_pluck=1, most_missed=3, largest_move_deg=1e6)
SUPPLY = Source(6.0, 0.0)
POWER = UnitPower(brown_out_v=0.0, start_up_s=1.0, current_a=0.0)


class Bench(NamedTuple):
    """A supply that never tires."""

    fixed: Source

    def source(self, used_c: float) -> Source:
        return self.fixed


FAST = IdealMotor(speed_limit_deg_s=1e6, resolution_deg=0.0)


def rig(
    *, string: String = E4, head: Head = HEAD, motor: Any = FAST, ear: StatisticalEar = EAR, task: Task = TASK,
    slop_deg: float = 0.0, player: Player = PLAYER, regrip: bool = True, source: Source = SUPPLY,
) -> Rig:  # fmt: skip
    """Return a rig with one string, without chance unless asked for."""
    radius_mm = head.winding_radius_mm(string.gauge_mm)
    built = chain(strung(string, radius_mm, midi_hz(64)), head.mechanism(), Twist(slop_deg / 2.0))
    machine = Machine(motor, Bench(source), 0.0, regrip)
    return Rig(string.target, built, machine, POWER, 0.0, player, ear, OPEN, task, head, {}, False, 0.0)


def cents_per_knob_degree(machine: Rig) -> float:
    """Return the slope of pitch over knob angle at the target."""
    string = machine.chain.string
    return string.cents_per_post_degree(string.tension_at_hz(string.target_hz)) / machine.chain.ratio


def tune(
    machine: Rig, controller: Controller, start_cents: float, *, driving: Driving = DRIVING, seed: int = 1,
    wrapped: bool = True, run: int = 0,
) -> Record:  # fmt: skip
    """Return the record of one run through the real loop; without wrappers the run ends by a limit."""
    inside = Retry(Finish(controller, machine.task.tolerance_cents, machine.task.finish_readings), driving.most_missed)
    plan = Plan(inside if wrapped else controller, driving)
    return simulate(machine, plan, machine.begins(start_cents), Chance(Streams(seed), machine.string, run))


def readings(record: Record) -> list[float]:
    """Return the cents of all readings that were heard."""
    return [reading.cents for reading in record.readings if reading.cents is not None]


def changed(component: Any, **values: Any) -> Any:
    """Return a component with other values."""
    return replace(component, **values)
