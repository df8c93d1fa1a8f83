"""The bill of a rig: sums, limits, and parts that nobody priced."""

import pytest

from scenarios.load import load_rig
from sim.design.bill import Bill, bill

PRICES = ("motor.price_eur=12", "supply.price_eur=8.5", "coupler.price_eur=1", "unit.price_eur=10", "ear.price_eur=7",
          "player.price_eur=0", "head.price_eur=0")  # fmt: skip


def of(*changes: str, rig: str = "default") -> Bill:
    return bill(load_rig(rig, changes=changes))


def test_the_total_is_the_sum_of_what_is_priced() -> None:
    found = of(*PRICES)
    assert found.known_eur() == 12 + 8.5 + 1 + 10 + 7
    assert found.unpriced() == ()
    assert found.verdict() == "no limit"


@pytest.mark.parametrize(("limit", "verdict"), [(38.5, "fits"), (38.4, "does not fit"), (0, "no limit")])
def test_a_limit_is_kept_or_not(limit: float, verdict: str) -> None:
    assert of(*PRICES, f"require.budget_eur={limit}").verdict() == verdict


def test_a_part_without_a_price_is_not_free() -> None:
    theory = of("require.budget_eur=1000", rig="theory")
    assert {"motor", "ear"} <= set(theory.unpriced())  # neither an ideal motor nor an exact ear can be bought
    assert theory.verdict() == "not known"
    assert of("require.budget_eur=5", rig="theory").verdict() == "does not fit"


def test_a_drive_on_every_peg_is_paid_for_every_peg() -> None:
    found = of(*PRICES, 'session.part="drive-per-peg"')
    assert found.known_eur() == 6 * (12 + 1) + 8.5 + 10 + 7


def test_an_ear_is_bought_whole_or_as_its_parts() -> None:
    whole, parts = ({line.section for line in of(rig=rig).lines} for rig in ("default", "small-ear"))
    assert whole - parts == {"ear"}
    assert parts - whole == {"microphone", "front_end"}
