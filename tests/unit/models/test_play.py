"""The play operator: known rows, and a turn in any number of parts ends the same."""

import math
from itertools import accumulate

from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.head.play import play, preloaded_play

ANGLES = st.floats(-50.0, 50.0)
WIDTHS = st.floats(0.0, 10.0)
CUTS = st.lists(st.floats(0.0, 1.0), max_size=20)


def test_row_ply1() -> None:
    """Half-width 1, start 0 (independent arithmetic)."""
    found = accumulate([0, 2, 1.5, 0.5, -1, -0.5, 3], lambda output, drive: play(output, drive, 1.0), initial=0.0)
    assert list(found)[1:] == [0, 1, 1, 1, 0, 0, 2]


def test_row_gbp1() -> None:
    """Width 2, held above 5, start 10 (independent arithmetic)."""
    found = accumulate(
        [9, 4, 3, 2, 3, 5, 6], lambda output, drive: preloaded_play(output, drive, 2.0, 5.0), initial=10.0
    )
    assert list(found)[1:] == [9, 5, 5, 4, 4, 5, 6]


@given(start=ANGLES, end=ANGLES, output=ANGLES, half=WIDTHS, cuts=CUTS)
def test_splitting_a_turn_changes_nothing(
    start: float, end: float, output: float, half: float, cuts: list[float]
) -> None:
    first = play(output, start, half)
    at = first
    for cut in [*sorted(cuts), 1.0]:
        at = play(at, start + cut * (end - start), half)
    assert at == approx(play(first, end, half), abs=1e-9)


@given(start=ANGLES, end=ANGLES, output=ANGLES, width=WIDTHS, slack=ANGLES, cuts=CUTS)
def test_splitting_a_turn_of_a_loaded_gear_changes_nothing(
    start: float, end: float, output: float, width: float, slack: float, cuts: list[float]
) -> None:
    first = preloaded_play(output, start, width, slack)
    at = first
    for cut in [*sorted(cuts), 1.0]:
        at = preloaded_play(at, start + cut * (end - start), width, slack)
    assert at == approx(preloaded_play(first, end, width, slack), abs=1e-9)


@given(output=ANGLES, drive=ANGLES, half=WIDTHS)
def test_the_output_stays_within_reach_and_rests_there(output: float, drive: float, half: float) -> None:
    found = play(output, drive, half)
    assert abs(found - drive) <= half + 1e-12
    assert play(found, drive, half) == found


@given(drive=ANGLES, half=WIDTHS, back=st.floats(0.0, 30.0))
def test_lost_motion_at_a_reversal_is_the_whole_width(drive: float, half: float, back: float) -> None:
    tight = play(-1e3, drive, half)  # tightened last: at the lower end
    moved = tight - play(tight, drive - back, half)
    assert moved == approx(max(0.0, back - 2 * half), abs=1e-9)


@given(drive=ANGLES, width=WIDTHS, back=st.floats(0.0, 30.0))
def test_a_pulling_string_takes_up_the_backlash(drive: float, width: float, back: float) -> None:
    """Far above the slack point a reversal loses nothing."""
    assert preloaded_play(drive, drive - back, width, -1e3) == approx(drive - back, abs=1e-9)


@given(output=ANGLES, drive=ANGLES, width=WIDTHS)
def test_without_a_load_it_is_the_plain_play_between_the_flanks(output: float, drive: float, width: float) -> None:
    loose = preloaded_play(output, drive, width, math.inf)
    assert loose == approx(min(max(output, drive), drive + width), abs=1e-9)
