"""Every kind of guard in a rig file: its run is the unguarded run up to the instant at which the guard trips."""

from typing import Any, ClassVar, NamedTuple

import pytest

from controllers.guards import GUARDS
from controllers.guards.base import Acts, Event, Place, Sensor
from models.component import component
from models.units import to_ns
from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim import metrics
from sim.build import Rig, sound
from sim.corners import course
from sim.design.guard_limits import named_guards
from sim.evaluate import Bench, record_of
from sim.guarded import brings, stopped, stops, trips
from sim.loop import Record
from sim.seeds import Streams
from sim.series.row import Item
from sim.trace import Outcome

ITEM = Item(0, 0, 0, 0, 0)


class Case(NamedTuple):
    """A machine that the guard stops: limits of the guard, and what else is changed in the rig."""

    limits: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    rig: str = "default"


def fault(kind: str) -> tuple[str, ...]:
    """Return what puts a fault into a rig from its second reading on."""
    return (f'faults.a.kind="{kind}"', "faults.a.from_reading=2")


CASES = {
    "largest-turn": Case(("most_deg=10.0",)),
    "tightening-budget": Case(changes=fault("stuck-reading")),
    "pitch-ceiling": Case(("most_cents=30.0",), ("instrument.start_cents=50.0",)),
    "no-response": Case(changes=fault("stuck-reading")),
    "wrong-direction": Case(changes=fault("reversed-sign")),
    "rejected-readings": Case(changes=fault("nothing-heard")),
    "silence": Case(("most_silent_s=1.0",)),
    "motor-current": Case(("hold_s=0.1",), fault("runaway"), "gear-motor"),
    "supply-voltage": Case(("least_v=5.95", "hold_s=0.001")),
    "power-up": Case(changes=('faults.a.kind="power-up-jump"', "faults.a.from_reading=0")),
    "hand-switch": Case(("most_deg=1.0", "reaction_s=0.05")),
}


def scenario(kind: str, case: Case) -> Scenario:
    """Return the rig of a case with its guard, which it calls *g*, on its highest string."""
    limits = [f"guards.g.{limit}" for limit in case.limits]
    changes = ['instrument.strings=["E4"]', *case.changes, f'guards.g.kind="{kind}"', *limits]
    return load_rig(case.rig, changes=changes)


def unguarded(rig: Scenario) -> Record:
    """Return the same run whatever guards the rig has."""
    return Bench((rig,), 1).unguarded(ITEM)


def test_every_kind_is_tried():
    assert list(CASES) == list(GUARDS)


def machine(rig: Scenario) -> Rig:
    """Return the machine on which limits of current are set."""
    return sound(rig, "E4", Streams(1), 0)


@pytest.mark.parametrize("kind", CASES)
def test_a_run_with_a_guard_is_the_run_without_it_up_to_where_it_trips(kind: str):
    rig = scenario(kind, CASES[kind])
    bare, guards = unguarded(rig), named_guards(rig, rig.strategies[0], "E4", machine(rig))
    at_s = trips(bare, guards)["g"]
    assert at_s is not None
    record = record_of(rig, rig.strategies[0].name, "E4")
    assert (record.outcome, record.detail) == (Outcome.GUARD_TRIPPED, "g")
    assert record.readings == [each for each in bare.readings if to_ns(each.arrival_s) <= to_ns(at_s)]
    assert record.commands == [each for each in bare.commands if each[0] <= to_ns(at_s)]
    path, other = (each.instrument.paths["E4"] for each in (record, bare))
    instants = [to_ns(at_s) * part // 200 for part in range(200)]
    assert [path.tension_n(at) for at in instants] == [other.tension_n(at) for at in instants]


@pytest.mark.parametrize("kind", CASES)
def test_a_run_ends_at_rest_with_the_tension_that_the_fault_series_tells(kind: str):
    rig = scenario(kind, CASES[kind])
    record = record_of(rig, rig.strategies[0].name, "E4")
    assert all(each.end_ns <= record.end_ns for each in record.instrument.paths["E4"].stretches)
    bare = unguarded(rig)
    guards = named_guards(rig, rig.strategies[0], "E4", machine(rig))
    stop = stops(bare, brings(guards), trips(bare, guards))["g"]
    found = course(record)
    assert to_ns(stop.at_s) <= record.end_ns
    assert metrics.measured(found)["percent_of_breaking"] == pytest.approx(stop.percent_of_breaking, rel=1e-12)
    since_s = (bare.struck_ns or 0) / 1e9
    assert stop.readings == sum(1 for each in record.readings if each.arrival_s >= since_s)
    assert not stop.broken


@pytest.mark.parametrize("kind", GUARDS)
def test_a_guard_with_derived_limits_lets_a_sound_machine_as_it_was(kind: str):
    """A guard alters nothing but the end: where it does not trip the row is the same, bit for bit."""
    rig, bare = (load_rig("default", changes=changes) for changes in ([f'guards.g.kind="{kind}"'], []))
    item = Item(0, 1, 0, 2, 0)
    assert trips(Bench((rig,), 1).unguarded(item), named_guards(rig, rig.strategies[1], "E2")) == {"g": None}
    assert Bench((rig,), 1).row(item) == Bench((bare,), 1).row(item)


def test_the_first_of_several_guards_ends_the_run():
    changes = [*fault("stuck-reading"), 'guards.late.kind="no-response"', 'guards.early.kind="silence"']
    rig = load_rig("default", changes=[*changes, "guards.early.most_s=2.5"])
    record = record_of(rig, rig.strategies[0].name, "E2")
    assert (record.outcome, record.detail) == (Outcome.GUARD_TRIPPED, "early")
    assert record.end_ns >= 2.5e9


@component
class At:
    """Stops a run at an instant, for want of a real sensor."""

    at_s: float
    place: ClassVar[Place] = "mechanics"
    sensor: ClassVar[Sensor] = "clock"
    acts: ClassVar[Acts] = "power"

    def start(self) -> None:
        """Remember nothing."""

    def watch(self, memory: Any, event: Event) -> tuple[float | None, Any]:
        """Return the instant once it is over."""
        return (self.at_s if event.at_s >= self.at_s else None), memory


@pytest.mark.parametrize(("lead_s", "outcome"), [(0.5, Outcome.GUARD_TRIPPED), (1e-3, Outcome.STRING_BROKE)])
def test_a_string_that_breaks_while_the_motor_comes_to_rest_is_broken(lead_s: float, outcome: Outcome):
    """A motor that is stopped coasts on for a time constant of its rotor, some hundredths of a second."""
    changes = ['faults.a.kind="runaway"', "faults.a.from_reading=2", 'nut.part="free"', 'instrument.strings=["E4"]']
    bare = unguarded(load_rig("gear-motor", changes=changes))
    assert bare.outcome is Outcome.STRING_BROKE
    broke_s = bare.end_ns / 1e9
    found = stopped(bare, {"late": At(at_s=broke_s - lead_s)})
    assert found.outcome is outcome
    assert found.instrument.broken("E4") == (outcome is Outcome.STRING_BROKE)
    assert ("after late tripped" in found.detail) == (outcome is Outcome.STRING_BROKE)


@pytest.mark.parametrize("late_s", [0.0, 0.1])
def test_a_guard_undoes_no_break_that_was_there_when_it_tripped(late_s: float):
    changes = ['faults.a.kind="runaway"', "faults.a.from_reading=2", 'nut.part="free"', 'instrument.strings=["E4"]']
    bare = unguarded(load_rig("gear-motor", changes=changes))
    readings, end_ns = list(bare.readings), bare.end_ns
    found = stopped(bare, {"late": At(at_s=end_ns / 1e9 + late_s)})
    assert (found.outcome, found.readings, found.end_ns, found.detail) == (Outcome.STRING_BROKE, readings, end_ns, "")


@pytest.mark.parametrize(("first", "outcome"), [(3, Outcome.GUARD_TRIPPED), (0, Outcome.PLUCK_LIMIT)])
def test_a_fault_takes_a_guard_out_from_its_first_act_on(first: int, outcome: Outcome):
    """A unit that hangs takes the firmware's guards with it; what they saw before it hung has stopped the machine."""
    hang = ('faults.a.kind="hang"', f"faults.a.from_reading={first}")
    rig = scenario("pitch-ceiling", Case(("most_cents=30.0",), ("instrument.start_cents=50.0", *hang)))
    assert record_of(rig, rig.strategies[0].name, "E4").outcome is outcome
