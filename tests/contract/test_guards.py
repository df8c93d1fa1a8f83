"""Every guard against the contract of ``controllers.guards.base``, and each on events made by hand."""

import dataclasses
import typing

import pytest

from controllers.guards import GUARDS
from controllers.guards.base import Acts, Event, Guard, Heard, Moved, Over, Place, Sensor, Told, Woke, trip_s
from controllers.guards.hand_switch import HandSwitch
from controllers.guards.motor_current import MotorCurrent
from controllers.guards.silence import Silence
from controllers.guards.tightening_budget import TighteningBudget
from models.component import resolve
from models.messages import LISTEN, Spin, Turn
from scenarios.load import load_rig
from sim.design.guard_limits import default_guards

RIG = load_rig("default")
DERIVED = default_guards(RIG, RIG.strategies[0], "E4")
SILENCE, CURRENT = DERIVED["silence"], DERIVED["motor-current"]
assert isinstance(SILENCE, Silence)
assert isinstance(CURRENT, MotorCurrent)
GUARD = pytest.mark.parametrize("name", GUARDS)
SLOPE = 0.5  # cents a degree in the events below


def moved(at_s: float, until_s: float, angle: float, first_a: float = 0.2, last_a: float = 0.2) -> Moved:
    """Return a motion on a supply of 6 V."""
    return Moved(at_s, until_s, angle, first_a, last_a, 6.0, 6.0)


def turns(angle: float, cents: list[float | None]) -> list[Event]:
    """Return a reading, then a turn and the next reading, and so on, 2 s each."""
    events: list[Event] = [Heard(1.0, cents[0])]
    for number, heard in enumerate(cents[1:]):
        at_s = 1.0 + 2.0 * number
        events += [Told(at_s, Turn(angle)), moved(at_s, at_s + 0.3, angle), Heard(at_s + 2.0, heard)]
    return events


CALM: list[Event] = [*turns(40.0, [-60.0, -40.0, -20.0, 0.0]), Told(7.0, LISTEN), Over(8.0)]


def test_the_default_rig_can_have_every_guard():
    assert list(DERIVED) == list(GUARDS)


@GUARD
def test_a_guard_says_where_it_lives_what_it_sees_and_what_it_stops(name: str):
    kind = resolve(GUARDS, name)
    assert kind.place in typing.get_args(Place)
    assert kind.sensor in typing.get_args(Sensor)
    assert kind.acts in typing.get_args(Acts)


@GUARD
def test_a_guard_is_frozen_and_pure(name: str):
    guard = DERIVED[name]
    for field in dataclasses.fields(typing.cast("typing.Any", guard)):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(guard, field.name, 1)
    memory = guard.start()
    for event in CALM:
        assert guard.watch(memory, event) == guard.watch(memory, event)
        _, memory = guard.watch(memory, event)
    assert guard.start() == guard.start()


@GUARD
def test_a_guard_lets_a_calm_run_pass(name: str):
    assert trip_s(DERIVED[name], CALM) is None


ODD: dict[str, tuple[list[Event], float]] = {
    "largest-turn": ([Heard(1.0, -60.0), Told(1.0, Turn(400.0))], 1.0),
    "tightening-budget": (turns(40.0, [-60.0] * 20), 19.0),
    "pitch-ceiling": (turns(40.0, [-60.0, 300.0]), 3.0),
    "no-response": (turns(40.0, [-60.0, -60.0, -60.0]), 5.0),
    "wrong-direction": (turns(40.0, [60.0, 40.0, 20.0]), 5.0),
    "rejected-readings": (turns(0.1, [-60.0, None, None, None]), 7.0),
    "silence": ([Heard(1.0, -60.0), Over(170.0)], 1.0 + SILENCE.most_silent_s),
    "motor-current": ([moved(2.0, 3.0, 40.0, 0.6, 5.0)], 0.0),
    "supply-voltage": ([Moved(2.0, 3.0, 40.0, 0.2, 0.2, 1.0, 1.0)], 2.1),
    "power-up": ([moved(0.5, 0.6, 10.0)], 0.5),
    "hand-switch": ([Heard(1.0, -60.0), moved(2.0, 6.0, 720.0)], 5.0),
}


@GUARD
def test_a_guard_stops_what_it_is_for(name: str):
    events, due_s = ODD[name]
    found = trip_s(DERIVED[name], events)
    assert found is not None
    if name == "motor-current":
        due_s = 2.0 + (CURRENT.most_a - 0.6) / (5.0 - 0.6) + 0.01
    assert found == pytest.approx(due_s)


def test_a_current_must_last_through_motions_that_follow_each_other():
    guard: Guard = MotorCurrent(most_a=1.0, hold_s=0.01)
    short = [moved(0.004 * number, 0.004 * (number + 1), 1.0, 2.0, 2.0) for number in range(5)]
    assert trip_s(guard, list(short)) == pytest.approx(0.010)
    apart = [moved(1.0 * number, 1.0 * number + 0.004, 1.0, 2.0, 2.0) for number in range(5)]
    assert trip_s(guard, list(apart)) is None


def test_a_hand_needs_its_time():
    assert trip_s(HandSwitch(most_deg=90.0, reaction_s=0.4), [moved(0.0, 2.0, 180.0)]) == pytest.approx(1.4)


def budget(**changes: bool) -> TighteningBudget:
    """Return a budget of 100 degrees."""
    return TighteningBudget(most_deg=100.0, cents_per_deg=SLOPE, low_cents=-100.0, high_cents=100.0, **changes)


def test_a_net_budget_misses_a_reversed_sign_and_an_absolute_one_does_not():
    """The machine is told to loosen a sharp string; wired wrongly, it tightens, and the reading rises."""
    rising: list[float | None] = [60.0 + 20.0 * number for number in range(10)]
    assert trip_s(budget(net=True), turns(-40.0, rising)) is None
    assert trip_s(budget(net=False), turns(-40.0, rising)) == 5.0


def test_a_budget_counts_across_a_reset_if_it_is_kept_there():
    spent = turns(40.0, [-60.0, -60.0, -60.0])
    again: list[Event] = [Woke(6.0), Told(7.0, Turn(40.0))]
    assert trip_s(budget(survives_reset=True), [*spent, *again]) == 7.0
    assert trip_s(budget(survives_reset=False), [*spent, *again]) is None


def test_a_budget_counts_what_a_spin_turned():
    spun: list[Event] = [Heard(1.0, -60.0), Told(1.0, Spin(50.0)), moved(1.0, 3.5, 125.0)]
    assert trip_s(budget(), spun) == pytest.approx(3.0)  # 100 of 125 degrees


def test_small_turns_that_never_answer_use_the_budget_up_too():
    assert trip_s(budget(), turns(3.0, [-60.0] * 40)) == pytest.approx(1.0 + 2.0 * 33)
