"""Wrappers do what they say to turns, speeds and readings, in any order (independent arithmetic)."""

from dataclasses import dataclass
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controllers.checks import TASK, reading
from controllers.halving import Halving
from controllers.proportional import Proportional
from controllers.proportional_spin import ProportionalSpin
from controllers.secant import Secant
from controllers.wrappers.deadband import Deadband
from controllers.wrappers.finish import Finish
from controllers.wrappers.finish_from_below import FinishFromBelow
from controllers.wrappers.largest_move import LargestMove
from controllers.wrappers.median import Median
from controllers.wrappers.slew import Slew
from controllers.wrappers.take_up import TakeUp
from models.messages import LISTEN, STOP, Spin, Turn
from tests.unit.controllers.plants import errors, turns

LAW = Proportional(gain_deg_per_cent=1.0, deadband_cents=0.0)
SPINS = ProportionalSpin(gain_deg_s_per_cent=1.0, deadband_cents=0.0)
READINGS = st.lists(st.one_of(st.none(), st.floats(-1200.0, 1200.0)), max_size=30)


def test_deadband_rests_inside_and_stops_a_spin() -> None:
    assert turns(Deadband(LAW, 3.0), [2.9, -2.9, 3.1, None]) == [0.0, 0.0, -3.1, 0.0]
    assert Deadband(SPINS, 3.0).update((None, None), reading(2.0))[0] == STOP
    assert Deadband(LAW, 3.0).update((None, None), reading(2.0))[0] == LISTEN


@given(heard=READINGS, change=st.floats(0.1, 100.0))
def test_slew_only_shortens_and_holds_the_growth(heard: list[float | None], change: float) -> None:
    asked, made = turns(LAW, heard), turns(Slew(LAW, turn_deg=change), heard)
    for before, wanted, turn in zip([0.0, *made], asked, made, strict=False):
        assert abs(turn) <= abs(wanted)
        assert turn * wanted >= 0.0
        assert abs(turn) <= change + (abs(before) if before * turn > 0.0 else 0.0) + 1e-9


def test_slew_holds_the_growth_of_a_speed_and_forgets_it_at_rest() -> None:
    law = Slew(SPINS, spin_deg_s=4.0)
    memory: Any = law.start(TASK)
    found = []
    for cents in (-10.0, -10.0, 2.0, None, -10.0):
        command, memory = law.update(memory, reading(cents))
        found.append(command.speed_deg_s if isinstance(command, Spin) else 0.0)
    assert found == [4.0, 8.0, -2.0, 0.0, 4.0]


def test_take_up_adds_the_play_when_the_direction_changes() -> None:
    heard = [-5.0, -3.0, 2.0, 0.0, 1.0, -1.0]
    assert turns(TakeUp(LAW, 10.0), heard) == [5.0, 3.0, -12.0, 0.0, -1.0, 11.0]


@given(start=st.floats(-100.0, 100.0), play=st.floats(0.0, 50.0))
def test_take_up_of_the_true_play_makes_it_vanish(start: float, play: float) -> None:
    law = Proportional(gain_deg_per_cent=1.5, deadband_cents=0.0)
    with_play = errors(TakeUp(law, play), start, 12, play_deg=play)
    assert with_play == pytest.approx(errors(law, start, 12), abs=1e-9)


def test_take_up_gives_halving_its_moves_back() -> None:
    """Halving on a change of side with a play of 40: some 74 moves on average, some 10 with take-up."""
    law = Halving(first_step_deg=80.0, least_step_deg=1.25, when="sign change", deadband_cents=0.625)
    starts = [float(start) for start in np.arange(-150.0, 150.0, 7.3)]

    def moves(controller: Any) -> float:
        return float(np.mean([_moves(controller, start, 40.0) for start in starts]))

    assert moves(law) > 4.0 * moves(TakeUp(law, 40.0))
    assert moves(TakeUp(law, 40.0)) < 13.0


def _moves(controller: Any, start: float, play_deg: float) -> int:
    found = errors(controller, start, 400, play_deg=play_deg)
    return next(k for k, cents in enumerate(found) if abs(cents) <= 0.625)


@given(start=st.floats(-60.0, 60.0), play=st.floats(0.0, 15.0), gain=st.floats(0.2, 1.0))
def test_finish_from_below_ends_upwards(start: float, play: float, gain: float) -> None:
    law = FinishFromBelow(Proportional(gain_deg_per_cent=gain, deadband_cents=2.0), below_deg=20.0)
    found = errors(Finish(law, 3.0, 2), start, 150, play_deg=play)
    moves = [after - before for before, after in pairwise(found) if abs(after - before) > 1e-12]
    assert abs(found[-1]) <= 2.0
    assert not moves or moves[-1] > 0.0


def test_finish_from_below_goes_on_for_ever_when_the_law_overshoots_its_own_gap() -> None:
    """1.125 of 20 degrees lands 2.5 cents sharp, outside the band: down again."""
    law = FinishFromBelow(Proportional(gain_deg_per_cent=1.125, deadband_cents=2.0), below_deg=20.0)
    assert max(errors(law, 3.0, 200)[-50:]) > 2.0


def test_finish_from_below_does_not_rest_after_a_loosening() -> None:
    law = FinishFromBelow(Proportional(gain_deg_per_cent=1.0, deadband_cents=2.0), below_deg=5.0)
    assert turns(law, [1.0, 10.0, 1.0, -4.0, 1.0]) == [0.0, -15.0, -5.0, 4.0, 0.0]


@pytest.mark.parametrize(("readings", "share"), [(3, 0.028), (5, 0.00856)])
def test_median_lets_an_outlier_through_only_in_a_majority(readings: int, share: float) -> None:
    """Octave errors with a chance of 0.1 (binomial sum): all patterns of one decision, each with its weight."""
    law = Median(LAW, readings)
    wrong = 0.0
    for pattern in product((False, True), repeat=readings):
        found = turns(law, [-1230.0 if bad else -30.0 for bad in pattern])
        assert found[:-1] == [0.0] * (readings - 1)
        wrong += (found[-1] > 100.0) * 0.1 ** sum(pattern) * 0.9 ** (readings - sum(pattern))
    assert wrong == pytest.approx(share, abs=5e-6)


def test_median_forgets_at_a_move_and_slides_at_rest() -> None:
    law = Median(Proportional(gain_deg_per_cent=1.0, deadband_cents=2.0), 3)
    assert turns(law, [1.0, 0.0, -1.0, 9.0, None, 9.0, 9.0, 0.0]) == [0.0, 0.0, 0.0, 0.0, 0.0, -9.0, 0.0, 0.0]


@dataclass(frozen=True)
class Hears:
    """Turns by nothing and remembers what it was given."""

    def start(self, task: Any, kept: Any = None) -> Any:
        return None

    def update(self, memory: Any, seen: Any) -> Any:
        return LISTEN, seen


def test_median_hands_on_a_pitch_that_fits_its_cents() -> None:
    law = Median(Hears(), 3)
    memory: Any = law.start(TASK)
    for cents in (10.0, -30.0, 20.0):
        _, memory = law.update(memory, reading(cents))
    assert memory[1].cents == 10.0
    assert memory[1].pitch_hz == pytest.approx(reading(10.0).pitch_hz)


SECANT = Secant(
    believed_cents_per_deg=3.0, first_gain=1.0, believed_spread_cents=0.0, learns_from_reversals=True,
    deadband_cents=0.0,
)  # fmt: skip


@pytest.mark.parametrize(
    "wrapped",
    [
        LargestMove(SECANT, 10.0), Slew(SECANT, turn_deg=10.0), Finish(LargestMove(SECANT, 10.0), 1.0, 2),
        LargestMove(Finish(SECANT, 1.0, 2), 10.0), LargestMove(TakeUp(Median(SECANT, 1), 7.0), 10.0),
        LargestMove(Deadband(FinishFromBelow(SECANT, 5.0), 1.0), 10.0),
    ],
    ids=repr,
)  # fmt: skip
def test_a_law_that_learns_is_told_what_its_turn_became(wrapped: Any) -> None:
    """From 100 cents flat ten degrees give twenty cents: two cents a degree, whatever lies between."""
    found = turns(wrapped, [-100.0, -80.0, -14.0])
    assert found[0] == 10.0
    assert found[2] == pytest.approx(14.0 / (66.0 / 10.0) if "Slew" not in repr(wrapped) else 14.0 / (66.0 / 20.0))


def test_a_take_up_that_is_clamped_tells_only_what_is_left_beyond_the_play() -> None:
    law = LargestMove(TakeUp(SECANT, 7.0), 10.0)
    memory: Any = law.start(TASK)
    _, memory = law.update(memory, reading(50.0))  # wanted -57, turned -10, of which 3 beyond the play
    command, _ = law.update(memory, reading(44.0))
    assert command == Turn(-10.0)
    assert memory[1].turn_deg == pytest.approx(-3.0)
