"""What a rig is on paper, string by string: tension, reserve, steps, torque, travel, time, hearing, charge."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from models.drivetrain import Chain
from models.hearing.statistical import StatisticalEar
from models.units import nearest_note
from scenarios.schema import Scenario
from sim.build import Rig, drawn
from sim.design.hearing import plucks_to_finish, resolution_cents
from sim.design.steps import least_step
from sim.design.strung import gives_m_n
from sim.design.supplies import sources
from sim.design.torque import tension_at_pitch_n, torques_nm
from sim.design.travel import travel_of
from sim.design.turning import turning
from sim.specimen import Draw


@dataclass(frozen=True, slots=True)
class Facts:
    """One string of one specimen, at its target pitch."""

    string: str
    target_hz: float
    note: str
    """The nearest note and the cents above it, such as ``"E2"`` or ``"G3-3.9"``."""
    tension_n: float
    percent_of_breaking: float
    reserve_cents: float
    """How far above the target the string breaks."""
    cents_per_knob_deg: float
    slip_cents: float
    """Smallest rise of pitch that friction allows; 0 where nothing sticks."""
    motor_step_deg: float
    """Smallest turn of the shaft that is sure to come."""
    step_cents: float
    """Smallest change of pitch that is sure to come."""
    step_set_by: str
    reversal_deg: float
    """Turn of the shaft that is lost at a change of direction: slop, and what the nut takes up."""
    torque_up_nm: float
    """Torque that the knob needs to tighten, the string's friction in it."""
    torque_down_nm: float
    """Torque that the knob needs to loosen; negative when the string drives it."""
    motor_torque_nm: float
    """Stall torque of the motor on this supply; infinite for the ideal motor."""
    fresh_torque_nm: float
    """Torque against which the motor starts, on a supply as fresh as the rig lets it be."""
    used_torque_nm: float
    """The same on one as used up as the rig lets it be."""
    holding_torque_nm: float
    """Torque that the resting motor holds."""
    motor_speed_deg_s: float
    """Speed of the shaft against the torque to tighten."""
    tightens: str
    """Which way the knob tightens, seen from its end; may be unknown."""
    stroke_cents: float
    """Pitch change of the motor's whole travel; infinite for one that turns round and round."""
    travel_cents: float
    """Pitch change of the head's whole travel; infinite for one that turns round and round."""
    wall_force_n: float
    """Force with which a friction peg presses the pegbox outwards; 0 for other heads. Told, not judged."""
    first_stroke_deg: float
    """Travel that is left to tighten before the first re-grip."""
    semitone_deg: float
    """Turn of the shaft from a semitone flat to the target, slop taken up."""
    semitone_regrips: int | None
    """Re-grips in it; None where travel or hand do not allow it."""
    semitone_s: float
    """Seconds that it takes, re-grips among them, against the torque at pitch."""
    slack_turns: float
    """Turns of the knob from slack to the target."""
    slack_regrips: int | None
    reading_cents: float
    """Within which one reading lies, 95 times of 100."""
    finish_cents: float
    """The same of the mean of the finishing readings."""
    lowest_v: float
    """Lowest voltage at the used supply's terminals while the motor tightens."""
    brown_out_v: float
    """Voltage below which the unit resets; 0 for one with a supply of its own."""
    hopeless: tuple[str, ...]
    """Why this string cannot be tuned by this machine, in words with numbers; empty when it can."""


def describe(scenario: Scenario) -> list[Facts]:
    """Return the facts of every string, in order, in the middle of all ranges."""
    gives = gives_m_n(scenario, middle)
    return [facts(scenario, string, middle, gives[string]) for string in scenario.strings]


def middle(key: str) -> float:
    """Return the middle of any range."""
    del key
    return 0.5


def facts(scenario: Scenario, string: str, draw: Draw, give_m_n: float | None = None) -> Facts:
    """Return the facts of one string where ``draw`` says what the ranges hold, all other strings taut.

    ``give_m_n`` is how far the body gives way per force; left out, it is that in the middle of all ranges.
    """
    give = gives_m_n(scenario, middle)[string] if give_m_n is None else give_m_n
    ear: StatisticalEar = scenario.ears[string].drawn(draw)
    rig = drawn(scenario, string, draw, ear, give)
    motor, supply, chain, task = rig.machine.motor, rig.machine.supply, rig.chain, scenario.task
    target_hz, tension = chain.string.target_hz, tension_at_pitch_n(rig)
    up_nm, down_nm = torques_nm(rig)
    fresh, used = sources(scenario, draw)
    step, travel, slope = least_step(rig, supply.source(0.0)), travel_of(rig), chain.cents_per_knob_deg(tension)
    plucks = plucks_to_finish(scenario)
    semitone = turning(motor, travel.semitone_deg, max(0.0, up_nm), used)
    found = Facts(
        string=string,
        target_hz=target_hz,
        note=_note(target_hz, scenario.setting.nominal().a4_hz),
        tension_n=tension,
        percent_of_breaking=100.0 * tension / chain.string.breaking_n,
        reserve_cents=chain.string.reserve_cents(),
        cents_per_knob_deg=slope,
        slip_cents=chain.slip_cents(tension),
        motor_step_deg=step.motor_deg,
        step_cents=step.cents,
        step_set_by=step.set_by,
        reversal_deg=travel.reversal_deg,
        torque_up_nm=up_nm,
        torque_down_nm=down_nm,
        motor_torque_nm=motor.stall_torque_nm(supply.source(0.0)),
        fresh_torque_nm=motor.starting_torque_nm(fresh),
        used_torque_nm=motor.starting_torque_nm(used),
        holding_torque_nm=motor.holding_nm(used),
        motor_speed_deg_s=motor.speed_deg_s(up_nm, supply.source(0.0)),
        tightens=rig.head.tightens,
        stroke_cents=motor.stroke_deg() * slope,
        travel_cents=rig.head.travel_deg() * slope,
        wall_force_n=rig.head.wall_force_n(),
        first_stroke_deg=travel.first_stroke_deg,
        semitone_deg=travel.semitone_deg,
        semitone_regrips=travel.regrips(travel.semitone_deg),
        semitone_s=semitone.seconds + (travel.regrips(travel.semitone_deg) or 0) * rig.player.regrip_s,
        slack_turns=travel.slack_deg / 360.0,
        slack_regrips=travel.regrips(travel.slack_deg),
        reading_cents=resolution_cents(ear, target_hz),
        finish_cents=resolution_cents(ear, target_hz, task.finish_readings, plucks),
        lowest_v=semitone.lowest_v,
        brown_out_v=rig.power.brown_out_v,
        hopeless=(),
    )
    return replace(found, hopeless=_hopeless(found, rig))


def _note(hertz: float, a4_hz: float) -> str:
    name, off = nearest_note(hertz, a4_hz)
    return f"{name}{off:+.1f}" if abs(off) >= 0.05 else name


def _hopeless(facts: Facts, rig: Rig) -> tuple[str, ...]:
    """Return why a string cannot be tuned, the gravest first."""
    found = []
    if facts.percent_of_breaking >= 100.0:
        found.append(
            f"{facts.string} would break: {facts.tension_n:.0f} N at pitch, "
            f"breaking at {rig.chain.string.breaking_n:.0f} N"
        )
    starts_nm = rig.machine.motor.starting_torque_nm(rig.machine.supply.source(0.0))
    if 0.0 < starts_nm <= facts.torque_up_nm:
        found.append(
            f"the motor cannot turn the knob of {facts.string}: "
            f"{facts.torque_up_nm * 1e3:.0f} mN m needed, it starts against {starts_nm * 1e3:.0f} mN m"
        )
    return (*found, *_slipping(facts, rig.chain))


def _slipping(facts: Facts, chain: Chain) -> Iterator[str]:
    """Give what turns that should not, or does not turn that should."""
    if chain.twist is not None and chain.twist.slip_nm <= facts.torque_up_nm:
        yield (
            f"the coupler slips on the knob of {facts.string}: "
            f"{facts.torque_up_nm * 1e3:.0f} mN m needed, it slips at {chain.twist.slip_nm * 1e3:.0f} mN m"
        )
    if facts.torque_down_nm < 0 and chain.static_nm > 0:
        pull_nm = chain.static_nm - facts.torque_down_nm
        yield (
            f"the peg of {facts.string} does not hold: its string pulls with {pull_nm * 1e3:.0f} mN m, "
            f"friction holds {chain.static_nm * 1e3:.0f} mN m"
        )
    elif facts.torque_down_nm < 0 and math.isfinite(facts.stroke_cents):
        yield f"the head of {facts.string} does not lock: it runs back while a hand re-grips"
