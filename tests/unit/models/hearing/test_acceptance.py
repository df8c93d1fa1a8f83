"""Acceptance stage by stage, in the order that is asked for."""

import pytest
from pydantic import ValidationError

from models.hearing.acceptance import STAGES, Acceptance, Accepting
from models.hearing.base import Heard
from models.messages import Estimate
from models.units import shifted

TARGET_HZ = 110.0
LIMITS = {
    "most_clipped_share": 0.2, "least_peak_share": 0.1, "least_periodicity": 0.8, "gate_cents": 400.0,
    "agree_readings": 2, "agree_cents": 20.0, "median_readings": 3,
}  # fmt: skip


def heard(cents: float | None, periodicity: float = 0.9, peak: float = 0.5, clipped: float = 0.0) -> Heard:
    pitch_hz = None if cents is None else shifted(TARGET_HZ, cents)
    return Heard(Estimate(pitch_hz, periodicity), False, peak, clipped)


def taken(order: str, *windows: Heard) -> list[float | None]:
    accepting = Accepting(Acceptance(order=order, **LIMITS), TARGET_HZ)
    found = [accepting.take(window, 0) for window in windows]
    return [None if error is None else round(error, 6) for error in found]


@pytest.mark.parametrize(
    ("stage", "good", "bad"),
    [
        ("clipping", heard(5.0, clipped=0.2), heard(5.0, clipped=0.21)),
        ("level", heard(5.0, peak=0.1), heard(5.0, peak=0.09)),
        ("periodicity", heard(5.0, periodicity=0.8), heard(5.0, periodicity=0.79)),
        ("gate", heard(-399.0), heard(-401.0)),
    ],
)
def test_each_stage_has_its_limit_and_is_off_unless_named(stage: str, good: Heard, bad: Heard) -> None:
    assert taken(stage, good, bad)[0] is not None
    assert taken(stage, good, bad)[1] is None
    assert taken("", bad)[0] is not None


def test_nothing_heard_is_nothing_accepted() -> None:
    assert taken("", heard(None)) == [None]


@pytest.mark.parametrize(("cents", "folded"), [(1190.0, -10.0), (-1230.0, -30.0), (590.0, 590.0), (0.0, 0.0)])
def test_folding_moves_an_octave_towards_the_target(cents: float, folded: float) -> None:
    assert taken("fold", heard(cents)) == [folded]


def test_the_order_matters() -> None:
    """Folding before the gate saves a reading that the gate before folding throws away."""
    assert taken("fold gate", heard(1200.0)) == [0.0]
    assert taken("gate fold", heard(1200.0)) == [None]


def test_agreement_waits_for_readings_that_lie_together() -> None:
    found = taken("agree", heard(10.0), heard(25.0), heard(80.0), heard(81.0))
    assert found == [None, 25.0, None, 81.0]


def test_an_octave_error_that_repeats_itself_agrees() -> None:
    """Known failure: agreement does not replace periodicity or the gate."""
    assert taken("agree", heard(1200.0), heard(1200.0))[1] == 1200.0


def test_the_median_leaves_one_wild_reading_out() -> None:
    assert taken("median", heard(1.0), heard(900.0), heard(2.0))[2] == 2.0


@pytest.mark.parametrize("order", ["agree", "median"])
def test_a_pluck_and_a_turn_forget_the_past(order: str) -> None:
    fresh = Accepting(Acceptance(order=order, **LIMITS), TARGET_HZ).take(heard(3.0), 0)
    by_pluck = Accepting(Acceptance(order=order, **LIMITS), TARGET_HZ)
    by_pluck.take(heard(200.0), 0)
    assert by_pluck.take(heard(3.0), 1) == fresh
    by_turn = Accepting(Acceptance(order=order, **LIMITS), TARGET_HZ)
    by_turn.take(heard(200.0), 0)
    by_turn.forget()
    assert by_turn.take(heard(3.0), 0) == fresh


def test_every_stage_exists_and_no_other() -> None:
    assert taken(" ".join(STAGES), heard(3.0), heard(3.0))[1] == 3.0
    for order in ("gates", "gate gate"):
        with pytest.raises(ValidationError, match="stages: clipping"):
            Acceptance(order=order, **LIMITS)


def test_the_search_reaches_as_far_as_a_reading_may_be_believed() -> None:
    def search(order: str) -> tuple[float, float] | None:
        return Acceptance(order=order, **LIMITS).search_hz(TARGET_HZ)

    assert search("periodicity") is None
    assert search("gate") == pytest.approx((shifted(TARGET_HZ, -400.0), shifted(TARGET_HZ, 400.0)))
    assert search("fold gate") == pytest.approx((shifted(TARGET_HZ, -1600.0), shifted(TARGET_HZ, 1600.0)))
