"""What a stop of the knob leaves of a run: told from the run without it, and simulated with it, must agree."""

import pytest

from models.drive import Drive
from models.units import NANOSECONDS
from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.corners import course
from sim.evaluate import record_of
from sim.guarded import reaches_s, stops
from sim.loop import Record
from sim.metrics import percent_of_breaking
from sim.trace import Outcome


def rig(name: str, fault: str, *changes: str) -> Scenario:
    return load_rig(name, changes=[f'faults.a.kind="{fault}"', *changes])


def run(scenario: Scenario) -> Record:
    return record_of(scenario, scenario.strategies[0].name, "E4" if "E4" in scenario.strings else "E5")


def percent(record: Record) -> float:
    found = course(record)
    return percent_of_breaking(found.highest_n, found.breaking_n)


@pytest.mark.parametrize("slips", ["coupler.slip_torque_nm=0", "coupler.slip_torque_nm=1"])
@pytest.mark.parametrize(
    ("name", "fault", "stop_deg"),
    [
        ("gear-motor", "runaway", 150.0),
        ("gear-motor", "stuck-reading", 60.0),
        ("default", "runaway", 60.0),
        ("default", "stuck-reading", 60.0),
        ("plain-stepper", "stuck-reading", 60.0),
        ("violin-pegs", "stuck-reading", 10.0),
    ],
)
def test_a_run_cut_at_the_stop_is_as_tight_as_one_that_has_the_stop(name: str, fault: str, stop_deg: float, slips: str):
    """Of either the highest tension counts, and whether the string broke; a slope of one nanosecond's turn is left."""
    begin = "instrument.start_cents=-150"
    fitted = run(rig(name, fault, slips, begin, f"coupler.stop_deg={stop_deg}"))
    bare = run(rig(name, fault, slips, begin))
    at_s = reaches_s(bare, stop_deg)
    assert at_s is not None
    told = stops(bare, {"pin": Drive.hold_at}, {"pin": at_s})["pin"]
    assert told.broken == (fitted.outcome is Outcome.STRING_BROKE)
    assert told.percent_of_breaking == pytest.approx(percent(fitted), abs=1e-3)


def test_a_run_that_never_turns_so_far_is_told_so_and_is_the_same_with_the_stop():
    far = ("instrument.start_cents=-150", "coupler.stop_deg=30000")
    bare, fitted = run(rig("default", "stuck-reading", far[0])), run(rig("default", "stuck-reading", *far))
    assert reaches_s(bare, 30000.0) is None
    assert fitted.outcome is bare.outcome
    assert fitted.end_ns == pytest.approx(bare.end_ns, abs=100)
    assert percent(fitted) == pytest.approx(percent(bare), rel=1e-9)


def test_the_instant_is_that_of_constant_speed_once_the_slop_is_used_up():
    """An ideal motor: the knob follows the shaft without slop, so two turns are as far apart as their angles."""
    scenario = load_rig("theory", changes=['faults.a.kind="stuck-reading"', "coupler.slop_deg=0"])
    record = run(scenario)
    stretch = next(each for each in record.instrument.paths["E4"].stretches if each.end_ns > each.start_ns)
    turned_deg = stretch.ends.knob_deg - stretch.begins.knob_deg
    first, second = (reaches_s(record, share * turned_deg) for share in (0.25, 0.75))
    assert first is not None
    assert second is not None
    assert second - first == pytest.approx(0.5 * turned_deg / stretch.piece.speed_deg_s, abs=3.0 / NANOSECONDS)
