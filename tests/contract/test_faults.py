"""Every fault against the contract of ``models.faults.base``: it changes a run, it ends, and it acts when it says."""

import dataclasses
from collections.abc import Iterator

import pytest
from pydantic import TypeAdapter

from models.component import resolve
from models.faults import FAULTS
from models.faults.base import NEVER_S, Fault, Moment
from models.messages import Estimate, Spin, Turn
from scenarios.load import load_rig
from sim.corners import trace
from sim.evaluate import record_of
from sim.faulty import Faults
from sim.trace import Outcome, Trace

HERE, LATER_NS = 2.0, 3_000_000_000
BOUNDS = ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum")
KINDS = pytest.mark.parametrize("kind", FAULTS)


def tuned(kind: str, *more: str, faulty: bool = True) -> Trace:
    """Return the run of a fault's witness, with or without the fault."""
    witness = resolve(FAULTS, kind).witness
    changes = [*witness.changes, *([f'faults.a.kind="{kind}"', *more] if faulty else [])]
    scenario = load_rig(witness.rig, changes=changes)
    return trace(record_of(scenario, witness.strategy, witness.string))


def story(run: Trace) -> tuple[object, ...]:
    """Return what happened, in a form that compares."""
    return run.outcome, run.end_s, run.readings, run.commands, run.tension_n.tolist(), run.breaking_n


@KINDS
def test_a_fault_changes_the_run_of_its_witness_and_the_run_ends(kind: str):
    sound, faulty = tuned(kind, faulty=False), tuned(kind)
    assert story(sound) != story(faulty)
    assert faulty.outcome is not Outcome.CRASHED
    assert faulty.end_s <= 180.0


@KINDS
def test_a_fault_that_never_happens_changes_no_bit(kind: str):
    assert story(tuned(kind, "faults.a.probability=0.0")) == story(tuned(kind, faulty=False))


@KINDS
def test_a_fault_acts_from_its_occasion_until_it_ends(kind: str):
    fault: Fault = dataclasses.replace(
        resolve(FAULTS, kind)(), from_reading=3, from_s=2.0, until_s=5.0, probability=0.5
    )
    turning = frozenset({Turn, Spin})
    assert fault.acts(Moment(3, 2.0, 0.49, turning))
    assert not fault.acts(Moment(2, 2.0, 0.49, turning))
    assert not fault.acts(Moment(3, 1.9, 0.49, turning))
    assert not fault.acts(Moment(3, 5.1, 0.49, turning))
    assert not fault.acts(Moment(3, 2.0, 0.5, turning))


class Even:
    """Chance that always draws what lets a fault act."""

    def fault(self, name: str, reading: int) -> float:
        """Return the lowest draw."""
        return 0.0


@KINDS
def test_what_passes_a_seam_after_a_fault_is_over_passes_unharmed(kind: str):
    fault: Fault = dataclasses.replace(resolve(FAULTS, kind)(), from_reading=0, until_s=HERE)
    seams = Faults({"a": fault}, frozenset({Turn, Spin}), Even(), altered=False)
    for now_ns in (0, 1_000_000_000):
        seams.heard(Estimate(110.0, 0.9), now_ns)
        seams.driven(Turn(20.0), now_ns)
        seams.told(Turn(20.0), now_ns)
    assert seams.heard(Estimate(112.0, 0.8), LATER_NS) == Estimate(112.0, 0.8)
    assert seams.told(Turn(7.0), LATER_NS) == Turn(7.0)
    assert seams.driven(Turn(7.0), LATER_NS) == (Turn(7.0), True)


def ends(kind: str) -> Iterator[tuple[str, float]]:
    """Return every number of a fault's own at each end of its range."""
    schema = TypeAdapter(resolve(FAULTS, kind)).json_schema()["properties"]
    for name in schema.keys() - {"from_s", "until_s"}:
        for bound in schema[name].keys() & set(BOUNDS):
            inwards = {"exclusiveMinimum": 1e-3, "exclusiveMaximum": -1e-3}.get(bound, 0.0)
            value = schema[name][bound] + inwards
            yield name, int(value) if schema[name]["type"] == "integer" else value


@KINDS
def test_a_run_ends_at_both_ends_of_every_range(kind: str):
    for name, value in ends(kind):
        assert tuned(kind, f"faults.a.{name}={value}").outcome is not Outcome.CRASHED, name


@KINDS
def test_every_number_of_a_fault_has_a_range(kind: str):
    schema = TypeAdapter(resolve(FAULTS, kind)).json_schema()["properties"]
    assert [name for name, key in schema.items() if not key.keys() & set(BOUNDS)] == []


@KINDS
def test_a_fault_keeps_nothing_and_alters_no_state_that_it_is_given(kind: str):
    fault: Fault = resolve(FAULTS, kind)()
    moment = Moment(max(fault.from_reading, 1), 1.0, 0.1, frozenset({Turn}))
    message = Estimate(110.0, 0.9) if fault.seam == "estimate" else Turn(20.0)
    assert fault.apply(message, None, moment) == fault.apply(message, None, moment)
    assert dataclasses.replace(fault) == fault


@KINDS
def test_what_passes_through_the_seam_is_of_its_kind(kind: str):
    fault: Fault = resolve(FAULTS, kind)()
    if fault.seam == "estimate":
        unheard, _ = fault.apply(Estimate(None, 0.0), None, Moment(1, 1.0, 0.1, frozenset({Turn})))
        assert isinstance(unheard, Estimate)
        assert unheard.pitch_hz is None or kind == "converter-blind"


def test_two_faults_at_once_both_act():
    both = tuned("wrong-target", 'faults.b.kind="late-readings"')
    alone = tuned("wrong-target")
    assert both.readings[0].cents == pytest.approx(alone.readings[0].cents, abs=20.0)
    assert both.readings[0].arrival_s == pytest.approx(alone.readings[0].arrival_s + 0.5)


def test_faults_last_by_default_longer_than_any_run():
    assert NEVER_S > 3600.0
