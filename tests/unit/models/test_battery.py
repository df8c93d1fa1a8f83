"""A battery tires along straight lines; a bench supply does not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx

from models.battery import COULOMB_PER_AH, Battery
from models.messages import Source
from models.supply import Supply

BLOCK = {
    "full_v": 9.3, "empty_v": 7.5, "full_ohm": 1.7, "empty_ohm": 6.0, "capacity_ah": 0.2, "charge_share": 1.0,
}  # fmt: skip
ALL_C = COULOMB_PER_AH * BLOCK["capacity_ah"]


def made(**changes: float) -> Battery:
    return Battery(**BLOCK | changes)


def terminal_v(source: Source, amps: float) -> float:
    return source.voltage_v - source.resistance_ohm * amps


def test_row_bat1_a_stalled_servo_on_a_block_fresh_and_used_up() -> None:
    """0.65 A: 9.3 V behind 1.7 ohm give 8.195 V, 7.5 V behind 6 ohm 3.600 V (independent arithmetic)."""
    assert terminal_v(made().source(0.0), 0.65) == approx(8.195, abs=5e-4)
    assert terminal_v(made().source(ALL_C), 0.65) == approx(3.600, abs=5e-4)


def test_half_the_charge_is_half_way() -> None:
    assert made().source(ALL_C / 2.0) == approx(Source(8.4, 3.85))


def test_charge_left_at_the_start_counts_like_charge_drawn() -> None:
    assert made(charge_share=0.7).source(0.1 * ALL_C) == approx(made().source(0.4 * ALL_C))


def test_an_empty_battery_stays_what_it_is() -> None:
    assert made().source(5.0 * ALL_C) == made().source(ALL_C) == Source(7.5, 6.0)


def test_an_ampere_hour_is_an_ampere_for_an_hour() -> None:
    """0.2 A from 0.2 Ah last an hour: 3600 s."""
    assert made().source(0.2 * 3600.0 * 0.999).voltage_v > 7.5
    assert made().source(0.2 * 3600.0).voltage_v == approx(7.5)


@given(first=st.floats(0.0, 1000.0), more=st.floats(0.0, 1000.0), amps=st.floats(0.0, 2.0))
def test_the_more_is_drawn_the_less_is_left_at_the_terminals(first: float, more: float, amps: float) -> None:
    before, after = made().source(first), made().source(first + more)
    assert terminal_v(after, amps) <= terminal_v(before, amps) + 1e-12


@given(used_c=st.floats(0.0, 1e6))
def test_a_bench_supply_does_not_tire(used_c: float) -> None:
    assert Supply(voltage_v=6.0, resistance_ohm=0.2).source(used_c) == Source(6.0, 0.2)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"empty_v": 9.4}, "empty_v lies above full_v"),
        ({"empty_ohm": 1.6}, "empty_ohm lies below full_ohm"),
        ({"charge_share": 1.1}, "charge_share"),
        ({"capacity_ah": 0.0}, "capacity_ah"),
        ({"full_ohm": -0.1}, "full_ohm"),
    ],
)
def test_a_battery_that_cannot_be_is_refused(changes: dict[str, float], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        made(**changes)
