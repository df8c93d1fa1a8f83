"""Friction at nut and saddle: rate-independent, conserving what was wound, never giving energy back."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.head.nut import Friction, Nut, Tensions, friction, relaxed, room_m, wind

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
        assert parts == pytest.approx(whole, abs=1e-7)
        parts = whole


@settings(max_examples=150, deadline=None)
@given(held=frictions(), start=st.floats(0.5, 100.0), way=WAYS)
def test_what_is_wound_is_in_the_string(held, start, way) -> None:
    tensions = Tensions(start, start, start)
    wound = wound_m(tensions, held)
    for move in way:
        tensions, wound = wind(tensions, move, held), wound + move
        assert wound_m(tensions, held) == pytest.approx(wound, abs=1e-12)


@settings(max_examples=100, deadline=None)
@given(held=frictions(), start=st.floats(30.0, 100.0), moves=st.lists(st.floats(-2e-4, 2e-4), min_size=1, max_size=6))
def test_a_cycle_of_winding_gives_no_energy_back(held, start, moves) -> None:
    """Work at the post over a closed cycle of winding is not below the energy that the string gained."""
    tensions, work = Tensions(start, start, start), 0.0
    for move in [*moves, -sum(moves)]:
        for _ in range(50):
            behind = tensions.behind_n
            tensions = wind(tensions, move / 50, held)
            work += 0.5 * (behind + tensions.behind_n) * move / 50
    gained = energy_j(tensions, held) - energy_j(Tensions(start, start, start), held)
    assert work >= gained - 1e-3 * (abs(work) + energy_j(tensions, held))


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
    """Drift 865.617 ln(1 + (r - 1) Lh/(Lh + Ls)): +5.87 and -5.62 cents for r 1.05, 102 and 648 mm (indep. arithmetic)."""
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


def test_capstan_values() -> None:
    """Published: mu 0.6 over five turns holds 153552935 to 1, mu 0.3 over one turn 6.6 (capstan equation, encyclopaedia)."""
    assert math.exp(0.6 * 5 * 2 * math.pi) == pytest.approx(153552935, abs=1)
    nut = Nut(
        friction_static=0.3, friction_kinetic=0.2, wrap_deg=90.0, saddle_wrap_deg=0.0, behind_mm=60.0, after_mm=0.0,
        relaxation_share=0.5,
    )  # fmt: skip
    assert nut.ratios()[0] ** 4 == pytest.approx(6.6, abs=0.05)


def test_a_nut_without_friction_is_none() -> None:
    free = Nut(
        friction_static=0.0, friction_kinetic=0.0, wrap_deg=12.0, saddle_wrap_deg=20.0, behind_mm=60.0, after_mm=20.0,
        relaxation_share=0.0,
    )  # fmt: skip
    assert friction(free, 1e4, 0.648) is None
