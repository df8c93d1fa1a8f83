"""The loop of one strategy on one string as theory sees it: slope, delay, band, and what limits them."""

import math
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from controllers.theory import decision_delay, turning_delay
from models.hearing.base import latency_s
from models.hearing.statistical import StatisticalEar
from models.messages import Spin
from scenarios.schema import Driving, Range, Scenario, Strategy, Wrapping
from sim.build import Rig, drawn
from sim.design.extremes import worst
from sim.design.facts import middle
from sim.design.hearing import resolution_cents
from sim.design.steps import least_step
from sim.design.strung import gives_m_n
from sim.design.supplies import sources
from sim.design.torque import tension_at_pitch_n, torques_nm
from sim.design.travel import travel_of
from sim.design.turning import turning
from sim.specimen import Draw

TURNS: Final = ("step_deg", "small_step_deg", "least_step_deg")
"""Parameters that are a law's usual turn near the target."""
FADING_DB: Final = 60.0  # what a note falls by in its T60


class Slopes(NamedTuple):
    """Cents per degree of the shaft at the target: in the middle of all ranges, and in both worst corners."""

    middle: float
    low: float
    high: float

    def steepest(self) -> float:
        """Return the steepest slope over the middle one."""
        return self.high / self.middle


@dataclass(frozen=True, slots=True)
class Loop:
    """All that theory needs to know of one strategy on one string."""

    slopes: Slopes
    decisions: int
    """Decisions between a move and the first reading that shows it."""
    sample_s: float
    """Seconds from one decision to the next."""
    latency_s: float
    """Age of a reading on arrival."""
    band_cents: float
    """Half-width of the band in which the law rests: its deadband, or the tolerance where that is narrower."""
    start_cents: tuple[float, float]
    lost_cents: float
    """What a change of direction loses: slop, and what nut and coupler take up, less what a take-up wrapper adds."""
    motor_step_cents: float
    slip_cents: float
    """Smallest rise of pitch that friction allows."""
    noise_cents: float
    """Within which the mean of the finishing readings lies, 95 times of 100."""
    largest_cents: float
    """Largest single move."""
    median_of: int
    """Readings that each decision is made from."""
    finish_readings: int
    pluck_limit: int
    readings_per_pluck: int
    """Readings of one pluck: as many as are allowed and as the note is loud enough for."""
    fitting: bool
    """Whether the law is driven as its kind is made for: spins listen while turning, turns do not."""
    left_out: tuple[str, ...]
    """Wrappers of the strategy that theory leaves out."""


def slopes(scenario: Scenario, string: str) -> Slopes:
    """Return the slope of a string; the body gives way where a run is a session."""
    give = gives_m_n(scenario, middle)[string] if scenario.whole else 0.0

    def slope(draw: Draw) -> float:
        chain = _rig(scenario, string, draw, give).chain
        return chain.cents_per_knob_deg(chain.string.tension_at_hz(chain.string.target_hz))

    low, high = worst(lambda draw: (slope(draw), -slope(draw)))
    return Slopes(low.middle, low.worst, -high.worst)


def _rig(scenario: Scenario, string: str, draw: Draw, give_m_n: float) -> Rig:
    return drawn(scenario, string, draw, scenario.ears[string].drawn(draw), give_m_n)


def loop(scenario: Scenario, strategy: Strategy, string: str, law: Any, found: Slopes) -> Loop:
    """Return the loop of a strategy whose law for this string is ``law``, each range in its middle."""
    rig = _rig(scenario, string, middle, gives_m_n(scenario, middle)[string] if scenario.whole else 0.0)
    driving: Driving = strategy.drivings[string].nominal()
    wrapping: Wrapping = strategy.wrappings[string].nominal()
    ear: StatisticalEar = scenario.ears[string].nominal()
    task = scenario.task
    turn_s = _turn_s(scenario, rig, _turn_deg(law, task.tolerance_cents / found.middle))
    per_pluck = min(driving.readings_per_pluck, _audible_readings(rig, ear))
    least = least_step(rig, rig.machine.supply.source(0.0))
    return Loop(
        slopes=found,
        decisions=_decisions(driving, rig, ear, turn_s),
        sample_s=_sample_s(driving, rig, ear, turn_s),
        latency_s=latency_s(ear),
        band_cents=min(max(getattr(law, "deadband_cents", 0.0), wrapping.deadband_cents), task.tolerance_cents),
        start_cents=_start_cents(scenario),
        lost_cents=abs(travel_of(rig).reversal_deg - wrapping.take_up_deg) * found.middle,
        motor_step_cents=least.motor_deg * found.middle,
        slip_cents=rig.chain.slip_cents(tension_at_pitch_n(rig)),
        noise_cents=resolution_cents(
            ear, rig.chain.string.target_hz, task.finish_readings, math.ceil(task.finish_readings / per_pluck)
        ),
        largest_cents=driving.largest_move_deg * found.middle,
        median_of=max(1, wrapping.median_of),
        finish_readings=task.finish_readings,
        pluck_limit=task.pluck_limit,
        readings_per_pluck=per_pluck,
        fitting=(Spin in law.asks) == (driving.driving == "turning"),
        left_out=_left_out(wrapping),
    )


def _turn_deg(law: Any, otherwise: float) -> float:
    return next((getattr(law, key) for key in TURNS if hasattr(law, key)), otherwise)


def _turn_s(scenario: Scenario, rig: Rig, turn_deg: float) -> float:
    """Return the seconds of a usual turn against the torque at pitch; 0 where the motor stands."""
    _, used = sources(scenario, middle)
    found = turning(rig.machine.motor, turn_deg, max(0.0, torques_nm(rig)[0]), used).seconds
    return found if math.isfinite(found) else 0.0


def _decisions(driving: Driving, rig: Rig, ear: StatisticalEar, turn_s: float) -> int:
    """Return the delay in decisions: a step is waited for; in rhythm readings are in flight; turning they are late.

    A window that is open while the shaft turns shows a part of the turn; in rhythm it counts as not showing it.
    """
    if driving.driving == "step":
        return 0
    if driving.driving == "turning":
        return turning_delay(latency_s(ear) + rig.machine.motor.lead_s(), ear.hop_s)
    return decision_delay(latency_s(ear), ear.window_s / 2.0 + turn_s, _rhythm_s(driving, rig, ear))


def _sample_s(driving: Driving, rig: Rig, ear: StatisticalEar, turn_s: float) -> float:
    if driving.driving != "step":
        return _rhythm_s(driving, rig, ear)
    listening = ear.window_s + ear.computing_s + ear.link_s
    plucking = rig.player.pluck_s + ear.skip_s if driving.readings_per_pluck == 1 else 0.0
    return turn_s + driving.dead_time_s + plucking + listening


def _rhythm_s(driving: Driving, rig: Rig, ear: StatisticalEar) -> float:
    """Return the shortest time between two readings that no move is waited for with."""
    return ear.hop_s if driving.readings_per_pluck > 1 else max(rig.player.pluck_s, ear.hop_s)


def _audible_readings(rig: Rig, ear: StatisticalEar) -> int:
    """Return the readings, a hop apart, until a usual pluck has faded to the ear's floor; at least 1."""
    audible_s = rig.chain.string.t60_s * (ear.fresh_snr_db - ear.floor_snr_db) / FADING_DB
    return 1 + max(0, math.floor((audible_s - ear.skip_s - ear.window_s / 2.0) / ear.hop_s))


def _start_cents(scenario: Scenario) -> tuple[float, float]:
    start = scenario.setting.values["start_cents"]
    return (start.low, start.high) if isinstance(start, Range) else (float(str(start)),) * 2


def _left_out(wrapping: Wrapping) -> tuple[str, ...]:
    used = {
        "finish from below": wrapping.finish_from_below_deg,
        "slew": wrapping.slew_deg or wrapping.slew_deg_s,
    }
    return tuple(name for name, value in used.items() if value)
