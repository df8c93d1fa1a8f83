"""Friction at nut and saddle: rate-independent, conserving what was wound, never giving energy back."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.head.nut import (
    Friction,
    Nut,
    Tensions,
    equal,
    friction,
    relaxed,
    reversal_m,
    room_m,
    slip_ratio,
    wind,
)

ROW = Friction(120e3, 20e3, 0.0, 1.10, 1.05, 1.0, 1.0)
SEVENTY = Tensions(70.0, 70.0, 70.0)


def frictions(smooth: bool | None = None) -> st.SearchStrategy[Friction]:
    def built(behind, speaking, after, nut, saddle, share):
        kinetic = [1.0 + (static - 1.0) * share for static in (nut, saddle)]
        return Friction(behind, speaking, after, nut, kinetic[0], saddle, kinetic[1])

    shares = {None: st.sampled_from([0.0, 0.5, 1.0]), True: st.just(1.0), False: st.just(0.5)}[smooth]
    return st.builds(
        built, st.floats(5e4, 3e5), st.floats(5e3, 4e4), st.sampled_from([0.0, 8e4, 2e5]), st.floats(1.005, 1.1),
        st.floats(1.005, 1.1), shares,
    )  # fmt: skip


WAYS = st.lists(st.floats(-2e-3, 2e-3), min_size=1, max_size=4)
ENDING = st.floats(0.5, 100.0)
SHARES = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5)


def wound_m(tensions: Tensions, held: Friction) -> float:
    after = tensions.after_n / held.after_n_m if held.after_n_m else 0.0
    return tensions.behind_n / held.behind_n_m + tensions.speaking_n / held.speaking_n_m + after


def energy_j(tensions: Tensions, held: Friction) -> float:
    after = tensions.after_n**2 / held.after_n_m if held.after_n_m else 0.0
    return 0.5 * (tensions.behind_n**2 / held.behind_n_m + tensions.speaking_n**2 / held.speaking_n_m + after)


# Rows of stick-slip and of sliding (independent arithmetic): kh 120, ks 20 N/mm, ratios 1.10 and 1.05, from 70/70 N
@pytest.mark.parametrize(
    ("moves_mm", "behind_n", "speaking_n"),
    [
        ([0.05], 76.0, 70.0),
        ([0.06], 74.221277, 70.496454),
        ([0.20], 78.893622, 72.517730),
        ([0.20, -0.20], 65.629845, 70.728359),
    ],
)
def test_winding_comes_in_slips(moves_mm: list[float], behind_n: float, speaking_n: float) -> None:
    tensions = SEVENTY
    for move in moves_mm:
        tensions = wind(tensions, move * 1e-3, ROW)
    assert tensions[:2] == pytest.approx((behind_n, speaking_n), abs=1e-6)


def test_equal_friction_slides_without_jumps() -> None:
    smooth = Friction(120e3, 20e3, 0.0, 1.05, 1.05, 1.0, 1.0)
    assert wind(SEVENTY, 0.2e-3, smooth)[:2] == pytest.approx((76.553191, 72.907801), abs=1e-6)


def test_a_slip_raises_the_pitch_by_its_quantum() -> None:
    """865.617 ln(1 + ks (rs - rk)/(kh + rk ks)) cents: 6.117 for the row above (independent arithmetic)."""
    slipped = wind(SEVENTY, 0.06e-3, ROW)
    quantum = 865.617 * math.log(1.0 + 20.0 * 0.05 / (120.0 + 1.05 * 20.0))
    assert (
        600.0 * math.log2(slipped.speaking_n / 70.0)
        == pytest.approx(quantum, rel=1e-5)
        == pytest.approx(6.117, abs=2e-3)
    )


@settings(max_examples=150, deadline=None)
@given(held=frictions(), start=st.floats(0.5, 100.0), way=WAYS, shares=SHARES)
def test_splitting_a_one_way_winding_changes_nothing(held, start, way, shares) -> None:
    whole = parts = Tensions(start, start, start)
    for move in way:
        before, done = whole, 0.0
        whole = wind(before, move, held)
        for share in [*sorted(shares), 1.0]:
            parts, done = wind(parts, move * (share - done), held), share
        assert parts == pytest.approx(whole, rel=1e-9, abs=1e-9)
        parts = whole


@settings(max_examples=150, deadline=None)
@given(held=frictions(), start=st.floats(0.5, 100.0), way=WAYS)
def test_what_is_wound_is_in_the_string(held, start, way) -> None:
    tensions = Tensions(start, start, start)
    wound = wound_m(tensions, held)
    for move in way:
        tensions, wound = wind(tensions, move, held), wound + move
        assert wound_m(tensions, held) == pytest.approx(wound, abs=1e-12)


def driven(tensions: Tensions, move: float, held: Friction) -> tuple[Tensions, float, float]:
    """Return the tensions after a move, the work at the post, and by how much that may be wrong.

    Between slips the pull is a straight line, so that steps up to the next slip are exact; those over one are short.
    """
    work = doubt = 0.0
    direction = 1 if move > 0.0 else -1
    while abs(move) > 0.0:
        room = room_m(tensions, held, direction)
        step = direction * min(abs(move), max(room, 4e-7))
        after = wind(tensions, step, held)
        work += 0.5 * (tensions.behind_n + after.behind_n) * step
        doubt += 0.0 if abs(step) <= room else abs(step * (after.behind_n - tensions.behind_n))
        tensions, move = after, move - step
    return tensions, work, doubt


@settings(max_examples=50, deadline=None)
@given(held=frictions(), start=st.floats(1.0, 100.0), moves=st.lists(st.floats(-2e-4, 2e-4), min_size=1, max_size=4))
def test_a_cycle_of_winding_gives_no_energy_back(held, start, moves) -> None:
    """Over a closed cycle of winding the work at the post is at least what the string gained: slips only lose."""
    tensions, work, doubt = equal(start), 0.0, 1e-9
    for move in [*moves, -sum(moves)]:
        tensions, done, unsure = driven(tensions, move, held)
        work, doubt = work + done, doubt + unsure
    assert work >= energy_j(tensions, held) - energy_j(equal(start), held) - doubt


def test_a_cycle_over_slips_loses_energy() -> None:
    """The loop of winding 0.2 mm up and down encloses work; friction took it."""
    up, work_up, doubt_up = driven(SEVENTY, 0.2e-3, ROW)
    down, work_down, doubt_down = driven(up, -0.2e-3, ROW)
    lost = work_up + work_down - (energy_j(down, ROW) - energy_j(SEVENTY, ROW))
    assert lost > 10.0 * (doubt_up + doubt_down)


@settings(max_examples=100, deadline=None)
@given(held=frictions(), start=st.floats(5.0, 100.0), way=WAYS, share=st.floats(0.0, 1.0))
def test_a_pluck_brings_the_tensions_together(held, start, way, share) -> None:
    tensions = Tensions(start, start, start)
    for move in way:
        tensions = wind(tensions, move, held)
    after = relaxed(tensions, held, share)
    assert wound_m(after, held) == pytest.approx(wound_m(tensions, held), abs=1e-12)
    if min(tensions) > 0.01:
        before_ratio, ratio = (each.behind_n / each.speaking_n for each in (tensions, after))
        if held.after_n_m == 0.0:
            assert math.log(ratio) == pytest.approx((1.0 - share) * math.log(before_ratio), abs=1e-9)
        assert energy_j(after, held) <= energy_j(tensions, held) * (1.0 + 1e-9)


def test_a_string_that_was_wound_up_last_drifts_sharp_and_one_let_down_flat() -> None:
    """Drift 865.617 ln(1 + (r - 1) Lh/(Lh + Ls)): +5.87 and -5.62 cents for r 1.05, 102 and 648 mm (independent)."""
    held = Friction(1.0 / 0.102, 1.0 / 0.648, 0.0, 1.05, 1.05, 1.0, 1.0)
    for behind, wanted in ((1.05 * 70.0, 5.87), (70.0 / 1.05, -5.62)):
        after = relaxed(Tensions(behind, 70.0, 70.0), held, 1.0)
        assert 600.0 * math.log2(after.speaking_n / 70.0) == pytest.approx(wanted, abs=0.01)


@given(held=frictions(False), start=st.floats(5.0, 100.0), direction=st.sampled_from([1, -1]))
def test_the_nut_holds_for_the_room_that_is_told(held, start, direction) -> None:
    tensions = Tensions(start, start, start)
    room = room_m(tensions, held, direction)
    within = wind(tensions, direction * room * (1.0 - 1e-9), held)
    beyond = wind(tensions, direction * room * (1.0 + 1e-6), held)
    assert within.speaking_n == start
    assert direction * (beyond.speaking_n - start) > 0.0


def nut(**changes: float) -> Nut:
    values = {
        "friction": 0.3, "wrap_deg": 12.0, "saddle_friction": 0.0, "saddle_wrap_deg": 20.0, "kinetic_share": 0.8,
        "after_mm": 0.0, "relaxation_share": 0.5,
    }  # fmt: skip
    return Nut(**(values | changes))


def test_ratios_and_segments_follow_from_the_parameters() -> None:
    """Capstan equation for each groove; what the speaking length and the saddle leave lies between nut and post."""
    held = friction(nut(saddle_friction=0.2, after_mm=20.0), 1e4, 0.648, 0.728)
    assert held is not None
    angles = math.radians(12.0), math.radians(20.0)
    ratios = [math.exp(each) for each in (0.3 * angles[0], 0.24 * angles[0], 0.2 * angles[1], 0.16 * angles[1])]
    assert held == pytest.approx((1e4 / 0.06, 1e4 / 0.648, 1e4 / 0.02, *ratios))
    assert held.whole_n_m() == pytest.approx(1e4 / 0.728)


def test_a_nut_without_friction_is_none() -> None:
    assert friction(nut(friction=0.0), 1e4, 0.648, 0.728) is None
    assert friction(nut(wrap_deg=0.0, saddle_friction=0.5), 1e4, 0.648, 0.728) is None  # it ends at the saddle
    assert friction(nut(friction=0.0, saddle_friction=0.5, after_mm=20.0), 1e4, 0.648, 0.728) is not None


def test_lengths_must_leave_a_head_segment() -> None:
    with pytest.raises(ValueError, match="no string is left between nut and post"):
        friction(nut(after_mm=80.0), 1e4, 0.648, 0.728)


@settings(max_examples=60, deadline=None)
@given(held=frictions(), nut_ratio=st.sampled_from([1.0, 1.02]), saddle=st.sampled_from([1.0, 1.02]), start=ENDING)
def test_winding_ends_for_grooves_that_slide_and_strings_that_go_slack(held, nut_ratio, saddle, start) -> None:
    """Unwound past slack, all segments follow the winding with the whole stiffness, and back again the same."""
    held = held._replace(nut_static=nut_ratio, nut_kinetic=nut_ratio, saddle_static=saddle, saddle_kinetic=saddle)
    loose_m = wound_m(equal(start), held) + 1e-3
    slack = wind(equal(start), -loose_m, held)
    assert slack == pytest.approx(equal(-1e-3 * held.whole_n_m()), rel=1e-6)
    assert wind(slack, 1e-3, held) == pytest.approx(equal(0.0), abs=1e-6)


def test_a_free_saddle_shares_its_pull_at_once() -> None:
    """Without friction at the saddle both lengths in front of the nut are one, in series."""
    free = ROW._replace(after_n_m=60e3, nut_static=1.05, saddle_static=1.0, saddle_kinetic=1.0)
    joined = ROW._replace(speaking_n_m=15e3, nut_static=1.05)
    there, alone = wind(SEVENTY, 0.3e-3, free), wind(SEVENTY, 0.3e-3, joined)
    assert there.speaking_n == there.after_n == pytest.approx(alone.speaking_n, rel=1e-12)
    assert there.behind_n == pytest.approx(alone.behind_n, rel=1e-12)


def test_the_saddle_slips_after_the_nut_has_fed_it() -> None:
    """First the nut's slips raise the speaking length alone to the saddle's ratio, then it lets go (closed form)."""
    held = ROW._replace(after_n_m=80e3, saddle_static=1.005, saddle_kinetic=1.0)
    before, after = wind(SEVENTY, 0.055e-3, held), wind(SEVENTY, 0.06e-3, held)
    assert before == (76.6, 70.0, 70.0)
    slipped = wind(SEVENTY, 0.06e-3, ROW)  # 70.496 N: beyond 1.005 times 70 N, so both sides of the saddle even out
    evened = 70.0 + (slipped.speaking_n - 70.0) * 80.0 / (20.0 + 80.0)
    assert after == pytest.approx((slipped.behind_n, evened, evened), rel=1e-12)


def test_what_friction_allows_is_what_winding_shows() -> None:
    """The closed forms of a slip and of a reversal against the operator itself (row NUT2: +6.1175 cents)."""
    start = wind(equal(70.0), 0.0583e-3, ROW)  # at the threshold, almost
    after = wind(start, 0.0001e-3, ROW)
    assert after.speaking_n / start.speaking_n == pytest.approx(slip_ratio(ROW), rel=1e-9)
    assert 600.0 * math.log2(slip_ratio(ROW)) == pytest.approx(6.1175, abs=0.0001)
    upper = Tensions(70.0 * ROW.nut_static, 70.0, 70.0)
    assert room_m(upper, ROW, -1) == pytest.approx(reversal_m(ROW, 70.0), rel=1e-12)
