"""Sessions: all strings of one machine, in passes, on a body that gives way."""

import itertools
from collections.abc import Sequence

import numpy as np
import pytest

from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.evaluate import Bench
from sim.series.compare import compare
from sim.series.row import Item
from sim.session import Sitting
from sim.trace import Outcome


def whole(name: str = "default", *changes: str) -> Scenario:
    return load_rig(name, changes=changes, session=True)


def sitting(scenario: Scenario, strategy: str = "proportional", specimen: int = 0, seed: int = 1) -> Sitting:
    place = [known.name for known in scenario.strategies].index(strategy)
    return Bench((scenario,), seed).sitting(Item(0, place, 0, specimen, 0))


def passes(scenario: Scenario, specimens: int = 6) -> list[int]:
    held = [sitting(scenario, specimen=specimen) for specimen in range(specimens)]
    return [max(len(visits) for visits in one.visits.values()) for one in held]


def test_a_floating_bridge_takes_more_passes_than_a_fixed_one() -> None:
    """Each string pulls the others down as it rises: the softer the body, the longer until all are in tune."""
    counts = [passes(whole("default", f'body.part="{body}"')) for body in ("rigid", "fixed-bridge", "floating-bridge")]
    assert np.mean(counts[0]) <= np.mean(counts[1]) < np.mean(counts[2])
    assert min(counts[2]) > max(counts[0])


def test_on_a_rigid_body_a_string_stays_where_it_was_left() -> None:
    one = sitting(whole("default", 'body.part="rigid"'))
    for string, visits in one.visits.items():
        for before, after in itertools.pairwise(visits):
            begins = after.record.instrument.paths[string].begins
            assert begins.speaking_n == before.record.ends.angles.speaking_n


def test_what_one_string_does_to_another_is_the_law_of_the_body() -> None:
    """After the first visit of a session the second string has fallen by ``k C dT / (1 + C K')``."""
    scenario = whole("default", "body.compliance_um_per_n=20", "session.most_passes=1", 'nut.part="free"')
    one, alone = sitting(scenario), Bench((scenario,), 1)
    first, second = scenario.order[:2]
    strings = {name: alone.rig(Item(0, 0, place, 0, 0)).chain.string for place, name in enumerate(scenario.strings)}
    record = one.visits[first][0].record
    rise = record.ends.angles.speaking_n - record.instrument.paths[first].begins.speaking_n
    others = sum(built.stiffness_n_m for name, built in strings.items() if name != first)
    fall = strings[second].stiffness_n_m * 20e-6 * rise / (1.0 + 20e-6 * others)
    started = one.rigs[second].begins(alone.start_cents(Item(0, 0, 1, 0, 0))).angles.speaking_n
    found = one.visits[second][0].record.instrument.paths[second].begins.speaking_n
    assert rise != 0.0
    assert found == pytest.approx(started - fall, rel=1e-9)


def test_a_drive_on_each_peg_keeps_its_place_and_a_carried_one_is_gripped_anew() -> None:
    carried = sitting(whole("default", "coupler.slop_deg=8", "motor.output_slop_deg=0"))
    fixed = sitting(whole("default", "coupler.slop_deg=8", "motor.output_slop_deg=0", 'session.part="drive-per-peg"'))
    assert all(visit.carry_s == 0.0 for visits in fixed.visits.values() for visit in visits)
    assert all(visit.carry_s > 0.0 for visits in carried.visits.values() for visit in visits)
    for string, visits in fixed.visits.items():
        for before, after in itertools.pairwise(visits):
            path = after.record.instrument.paths[string]
            assert path.begins.shaft_deg == before.record.ends.angles.shaft_deg
    lags = {
        round(path.begins.shaft_deg + path.begins.grip_deg - path.begins.knob_deg, 6)
        for string, visits in carried.visits.items()
        for path in (visit.record.instrument.paths[string] for visit in visits)
    }
    assert len(lags) > 3 and all(-4.0 <= lag <= 4.0 for lag in lags)


def test_charge_is_drawn_from_one_supply_all_session_long() -> None:
    one = sitting(whole("default", 'session.part="drive-per-peg"'))
    drawn = [visit.record.ends.used_c for visits in one.visits.values() for visit in visits]
    assert one.used_c == max(drawn) > 0.0


def test_a_string_that_breaks_is_left_out_and_the_others_rise() -> None:
    """Its tension is gone from the body; the session goes on with the others."""
    scenario = whole(
        "default", 'strings.B3.strength_mpa=1000', "instrument.start_cents=-30", 'body.part="floating-bridge"',
        "session.most_passes=3",
    )  # fmt: skip
    one = sitting(scenario)
    assert one.visits["B3"][-1].record.outcome is Outcome.STRING_BROKE
    assert len(one.visits["B3"]) < len(one.visits["E2"])
    after = one.visits["E4"][0].record.instrument.paths["E4"].begins.speaking_n
    untouched = sitting(whole("default", "instrument.start_cents=-30", 'body.part="floating-bridge"')).visits["E4"][0]
    assert after > untouched.record.instrument.paths["E4"].begins.speaking_n


def test_the_order_is_kept() -> None:
    scenario = whole("default", 'session.order=["E4","B3","G3","D3","A2","E2"]', "session.most_passes=1")
    one = sitting(scenario)
    assert list(one.visits) == ["E4", "B3", "G3", "D3", "A2", "E2"]


def test_rows_of_a_session_do_not_depend_on_who_computes_them() -> None:
    """Serial and in processes: the same rows, bit for bit."""
    serial = compare([whole()], specimens=2, tunings=2, strategies=["proportional"], jobs=1)
    parallel = compare([whole()], specimens=2, tunings=2, strategies=["proportional"], jobs=2)
    assert serial.rows.tobytes() == parallel.rows.tobytes()
    assert serial.summary["strategies"][0]["session"]["passes"]["median"] >= 2.0


def unknown(string: str) -> Sequence[str]:
    return (f'head.by_string.{string}.tightens="unknown"', f'instrument.strings=["{string}"]')


def test_a_sense_of_turning_that_is_not_known_is_found_by_one_small_move() -> None:
    """Half of the machines turn the other way, and all the same they come into tune."""
    scenario = whole("default", *unknown("E4"))
    bench = Bench((scenario,), 1)
    senses = {bench.rig(Item(0, 2, 0, specimen, 0)).machine.sense for specimen in range(12)}
    assert senses == {1, -1}
    outcomes = [sitting(scenario, specimen=specimen).visits["E4"][-1].record.outcome for specimen in range(12)]
    assert outcomes.count(Outcome.FINISHED) >= 11


def test_a_machine_that_cannot_find_the_sense_refuses_to_go_on() -> None:
    """The string's reserve allows no move that would show through the slop."""
    scenario = whole(
        "default", 'head.by_string.A2.tightens="unknown"', "strings.A2.strength_mpa=1010", "coupler.slop_deg=60",
        "instrument.start_cents=-30",
    )  # fmt: skip
    one = sitting(scenario)
    assert one.visits["A2"][-1].record.outcome is Outcome.GAVE_UP
    assert "which way" in one.visits["A2"][-1].record.detail
    assert one.visits["D3"] == []
