"""The stop of the knob as a protection of a rig: what it passes, what it holds, and what is said of it."""

import pytest

from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.build import build
from sim.design.facts import describe
from sim.design.guard_limits import starts
from sim.design.hardware import hardware, needless, stop_deg, stop_holds
from sim.design.refusals import doubts
from sim.evaluate import record_of
from sim.trace import Outcome

NO_FRICTION = 'nut.part="free"'
RUNAWAY = ('faults.a.kind="runaway"', "faults.a.from_reading=2", NO_FRICTION)
NEVER_SLIPS = "coupler.slip_torque_nm=0"


def rig(name: str, *changes: str) -> Scenario:
    return load_rig(name, changes=list(changes))


def e4_breaks_deg(scenario: Scenario, cents: float) -> float:
    """Return the turn of the knob that breaks E4 from a start: stiffness and ratio, by two divisions."""
    chain = build(scenario, "E4").chain
    begins = chain.at(chain.string.tension_at_hz(chain.string.target_hz * 2.0 ** (cents / 1200.0)), 0.0)
    return (chain.string.breaking_n - begins.speaking_n) / chain.newton_per_deg * chain.ratio


@pytest.mark.parametrize(("share", "outcome"), [(0.7, Outcome.STALLED), (1.3, Outcome.STRING_BROKE)])
def test_a_runaway_breaks_e4_behind_a_stop_above_breaking_and_not_behind_one_below(share: float, outcome: Outcome):
    """Each specimen's own chain: stop and breaking turn are compared in it, so that the draw does not matter."""
    plain = rig("gear-motor", "instrument.start_cents=-100", NEVER_SLIPS, *RUNAWAY)
    stop = share * e4_breaks_deg(plain, -100.0)
    scenario = rig("gear-motor", "instrument.start_cents=-100", NEVER_SLIPS, f"coupler.stop_deg={stop}", *RUNAWAY)
    record = record_of(scenario, scenario.strategies[0].name, "E4")
    assert record.outcome is outcome
    ends = record.drive.stands().angles if record.drive else None
    assert ends is not None
    assert (ends.knob_deg == pytest.approx(ends.stop_deg)) == (outcome is Outcome.STALLED)


def test_the_tension_at_the_stop_is_that_of_the_chain_at_its_angle():
    scenario = rig("gear-motor", "instrument.start_cents=-100", NEVER_SLIPS, "coupler.stop_deg=80", *RUNAWAY)
    record = record_of(scenario, scenario.strategies[0].name, "E4")
    assert record.drive is not None
    begins, ends = record.instrument.paths["E4"].begins, record.drive.stands().angles
    chain = record.rig.chain
    assert ends.speaking_n - begins.speaking_n == pytest.approx(80.0 * chain.newton_per_deg / chain.ratio, rel=1e-9)


def test_a_runaway_behind_a_coupler_that_slips_stops_there_too_and_is_not_told():
    scenario = rig("gear-motor", "coupler.slip_torque_nm=0.15", "coupler.stop_deg=80", *RUNAWAY)
    record = record_of(scenario, scenario.strategies[0].name, "E4")
    assert record.drive is not None
    ends = record.drive.stands().angles
    assert record.outcome not in (Outcome.STALLED, Outcome.STRING_BROKE)
    assert ends.knob_deg == pytest.approx(ends.stop_deg)


@pytest.mark.parametrize("name", ["default", "gear-motor", "violin-pegs", "ukulele"])
def test_the_derived_stop_lets_every_string_reach_its_target_from_every_start(name: str):
    """A stop that healthy runs meet would be no protection: pitch of each string at the stop from the lowest start."""
    scenario = rig(name)
    low, high = starts(scenario)
    for string in scenario.strings:
        chain = build(scenario, string).chain
        begins = chain.at(chain.string.tension_at_hz(chain.string.target_hz * 2.0 ** (low / 1200.0)), 0.0)
        ends = chain.turned(begins, 0.0, begins.knob_deg + stop_deg(scenario))
        assert ends.speaking_n > chain.string.tension_at_hz(chain.string.target_hz * 2.0 ** (max(high, 0.0) / 1200.0))


def test_the_rule_names_the_strings_that_break_before_the_stop():
    scenario = rig("default")
    rule, turn_deg, (_, high) = hardware(scenario)["mechanical-stop"][1], stop_deg(scenario), starts(scenario)
    assert f"{turn_deg:.0f} deg" in rule
    told = rule.partition("does not hold on: ")[2].split(", ")
    assert told == [name for name in scenario.strings if not stop_holds(build(scenario, name).chain, turn_deg, high)]
    assert told != [""]


def test_a_stop_holds_up_to_the_turn_that_breaks_the_string():
    scenario = rig("theory", NO_FRICTION)
    breaks_deg = e4_breaks_deg(scenario, 0.0)
    chain = build(scenario, "E4").chain
    assert stop_holds(chain, 0.999 * breaks_deg, 0.0)
    assert not stop_holds(chain, 1.001 * breaks_deg, 0.0)


def test_a_motor_whose_travel_ends_before_needs_no_stop_and_is_told_so():
    scenario = rig("default", "coupler.regrip=false")
    assert "mechanical-stop" not in hardware(scenario)
    assert "90 deg" in needless(scenario)["mechanical-stop"]  # a servo of 180 degrees, put on in the middle
    assert not needless(rig("default"))


def test_fitting_the_stop_sets_the_rigs_key():
    scenario = rig("default")
    fit, _ = hardware(scenario)["mechanical-stop"]
    assert build(fit(scenario), "E4").chain.stop_deg == stop_deg(scenario)


def test_check_doubts_a_stop_short_of_the_target_and_names_the_string_that_needs_most():
    """Tension goes as the square of pitch: a semitone flat is 1 - 2^(-1/6) of the way from slack."""
    changes = ("instrument.start_cents={low=-100, high=0}", "coupler.stop_deg=20")
    short = rig("default", *changes)
    lines = [line for line in doubts(short, describe(short)) if "coupler.stop_deg" in line]
    ways = {each.string: 360.0 * each.slack_turns * (1.0 - 2.0 ** (-1.0 / 6.0)) for each in describe(short)}
    worst = max(ways, key=lambda name: ways[name])
    assert len(lines) == 1
    assert f"after 20 deg; {worst} needs {ways[worst]:.0f} deg from -100 cents" in lines[0]
    enough = rig("default", changes[0], f"coupler.stop_deg={1.01 * ways[worst]}")
    assert not [line for line in doubts(enough, describe(enough)) if "coupler.stop_deg" in line]
