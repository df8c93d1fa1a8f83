"""Strategies of a rig file in the real loop: their wrappers in order, their beliefs, and all of them in one run."""

import math
from typing import Any

import pytest

from controllers.base import Controller
from controllers.halving import Halving
from controllers.inverse import Inverse
from controllers.proportional import Proportional
from controllers.secant import Secant
from controllers.wrappers.deadband import Deadband
from controllers.wrappers.finish import Finish
from controllers.wrappers.finish_from_below import FinishFromBelow
from controllers.wrappers.largest_move import LargestMove
from controllers.wrappers.median import Median
from controllers.wrappers.retry import Retry
from controllers.wrappers.slew import Slew
from controllers.wrappers.take_up import TakeUp
from models.messages import LISTEN, Turn
from scenarios.errors import RigError
from scenarios.load import load_rig
from sim.build import Rig, build
from sim.design.facts import describe
from sim.evaluate import record_of
from sim.plan import law, plan
from sim.series.compare import compare
from tests.loop.rigs import EAR, TASK, cents_per_knob_degree, changed, rig, tune

KINDS = ("bang-bang", "two-step", "halving", "proportional", "proportional-integral", "inverse", "secant",
         "cautious-secant")  # fmt: skip


def own(kind: str, *changes: str) -> Any:
    """The default rig with a strategy ``own`` of one kind."""
    return load_rig("default", changes=[f"strategies.own.kind={kind}", *(f"strategies.own.{each}" for each in changes)])


class Silent:
    """A user's own law, without a band of its own."""

    def start(self, task: Any, kept: Any = None) -> None:
        return None

    def update(self, memory: Any, seen: Any) -> Any:
        return LISTEN, None


def test_wrappers_stand_in_the_order_that_is_stated() -> None:
    keys = ("deadband_cents=2", "finish_from_below_deg=9", "take_up_deg=4", "slew_deg=30", "median_of=3")
    loaded = load_rig(
        "default",
        plugins={"silent": Silent},
        changes=["strategies.own.kind=silent", *(f"strategies.own.{key}" for key in keys)],
    )
    held: Any = plan(loaded, loaded.strategies[-1], "A2").controller
    found = []
    while hasattr(held, "inner"):
        found.append(type(held))
        held = held.inner
    assert found == [Retry, Median, Finish, LargestMove, Slew, TakeUp, FinishFromBelow, Deadband]
    assert type(held) is Silent


def test_a_law_keeps_its_own_deadband_and_unused_wrappers_are_not_there() -> None:
    loaded = own("proportional", "deadband_cents=1.5")
    held = repr(plan(loaded, loaded.strategies[-1], "A2").controller)
    assert held.startswith("Retry(inner=Finish(inner=LargestMove(inner=Proportional(")
    assert "deadband_cents=1.5" in held


def test_wrappers_may_differ_by_string_and_are_refused_by_name() -> None:
    loaded = own("proportional", "take_up_deg=3.0", "by_string.E2.take_up_deg=0.0")
    strategy = loaded.strategies[-1]
    assert "TakeUp" in repr(plan(loaded, strategy, "A2").controller)
    assert "TakeUp" not in repr(plan(loaded, strategy, "E2").controller)
    with pytest.raises(RigError, match="take_up_deg"):
        own("proportional", "takeup_deg=3.0")
    with pytest.raises(RigError, match=r"median_of.*whole number"):
        own("proportional", "median_of=2.5")


@pytest.mark.parametrize("kind", ["inverse", "secant", "cautious-secant"])
def test_a_belief_is_told_by_the_nominal_rig_unless_it_is_given(kind: str) -> None:
    loaded = own(kind, "by_string.E2.believed_cents_per_deg=7.0")
    for string in loaded.strings:
        held: Any = law(loaded, loaded.strategies[-1], string)
        slope = cents_per_knob_degree(build(loaded, string))
        assert held.believed_cents_per_deg == pytest.approx(7.0 if string == "E2" else slope)


def test_in_a_session_the_belief_counts_the_body_in() -> None:
    """The slope that ``check`` prints: all strings taut on a body that gives way."""
    loaded = load_rig("default", changes=["strategies.own.kind=inverse"], session=True)
    for facts in describe(loaded):
        held: Any = law(loaded, loaded.strategies[-1], facts.string)
        assert held.believed_cents_per_deg == pytest.approx(facts.cents_per_knob_deg)


def test_the_inverse_brings_the_real_string_home_in_one_turn() -> None:
    """E4 without bending stiffness: left is the strain's share, 0.7 %, of the second order of the turn."""
    machine = rig()
    inverse = Inverse(believed_cents_per_deg=cents_per_knob_degree(machine), deadband_cents=0.5)
    cents = [reading.cents for reading in tune(machine, inverse, -60.0, wrapped=False).readings]
    assert abs(cents[1]) < 0.5
    assert all(abs(after) == pytest.approx(abs(cents[1])) for after in cents[2:])


@pytest.mark.parametrize("wrong", [0.6, 1.0, 1.6])
def test_secant_finds_the_slope_whatever_it_believed(wrong: float) -> None:
    machine = rig()
    slope = cents_per_knob_degree(machine)
    secant = Secant(
        believed_cents_per_deg=wrong * slope, first_gain=0.5, believed_spread_cents=0.1, learns_from_reversals=False,
        deadband_cents=0.5,
    )  # fmt: skip
    cents = [reading.cents for reading in tune(machine, secant, -60.0, wrapped=False).readings]
    assert abs(cents[2]) < 2.5
    assert abs(cents[4]) <= 0.5


def test_a_median_keeps_most_octaves_out() -> None:
    """One reading in ten an octave low: of decisions by a median of three 0.028 are meant for an octave."""
    machine = rig(ear=changed(EAR, octave_low_share=0.1), task=changed(TASK, finish_readings=3))
    gain = 0.3 / cents_per_knob_degree(machine)
    bare = Proportional(gain_deg_per_cent=gain, deadband_cents=2.0)
    wild, turns = zip(*(_wild_turns(machine, law, 600.0 * gain) for law in (bare, Median(bare, 3))), strict=True)
    assert wild[0] / turns[0] > 0.06
    assert wild[1] / turns[1] < 0.05


def _wild_turns(machine: Rig, controller: Controller, least_deg: float) -> tuple[int, int]:
    """How many turns of forty tunings were that large, and how many there were."""
    angles = [
        abs(command.angle_deg)
        for run in range(40)
        for _, command in tune(machine, controller, -60.0, run=run).commands
        if isinstance(command, Turn)
    ]
    return sum(angle > least_deg for angle in angles), len(angles)


def test_take_up_saves_moves_where_there_is_slop() -> None:
    machine = rig(slop_deg=60.0)
    halving = Halving(first_step_deg=80.0, least_step_deg=2.0, when="sign change", deadband_cents=2.0)
    starts = [-59.0 + 7.0 * step for step in range(17)]
    bare, taken = (
        sum(len(tune(machine, law, start).commands) for start in starts) for law in (halving, TakeUp(halving, 60.0))
    )
    assert taken < 0.7 * bare


def test_every_kind_tunes_the_default_rig_and_none_crashes() -> None:
    loaded = load_rig("default", changes=[f"strategies.{kind}.kind={kind}" for kind in KINDS])
    result = compare((loaded,), strategies=KINDS, specimens=12, tunings=1, jobs=1)
    found = {each["name"]: each for each in result.summary["strategies"]}
    assert result.crashed() == 0
    assert set(found) == set(KINDS)
    for kind in KINDS:
        assert found[kind]["in_tune"]["share"] > 0.85, kind
        assert found[kind]["broken"]["count"] == 0
    assert found["two-step"]["plucks"]["median"] < found["bang-bang"]["plucks"]["median"]
    assert found["inverse"]["plucks"]["median"] < found["proportional"]["plucks"]["median"]
    assert found["cautious-secant"]["overshoot_cents"]["p95"] < found["halving"]["overshoot_cents"]["p95"]


def test_a_wrapped_strategy_tunes_the_default_rig() -> None:
    keys = ("finish_from_below_deg=12", "take_up_deg=4", "slew_deg=60", "median_of=3")
    loaded = own("cautious-secant", *keys)
    outcomes = [record_of(loaded, "own", string).outcome.name for string in loaded.strings]
    assert outcomes.count("FINISHED") >= len(outcomes) - 1
    assert math.isfinite(record_of(loaded, "own", "A2").end_ns)
