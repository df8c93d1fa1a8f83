"""What time alone does: creep falls by the decade, climate goes where the two expansions send it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.strings.climate import Climate
from models.strings.creep import Creep

ONSET_S, DECADE = 60.0, 4.0


def climate(**changes: float) -> Climate:
    values = {
        "string_change_k": 5.0, "body_change_k": 5.0, "string_expansion_ppm_k": 12.0, "body_expansion_ppm_k": 4.0,
        "string_pace_s": 20.0, "body_pace_s": 600.0,
    }  # fmt: skip
    return Climate(**(values | changes))


@pytest.mark.parametrize("decades", [0, 1, 2, 3])
def test_a_new_string_falls_by_as_much_in_each_decade(decades: int) -> None:
    new = Creep(cents_per_decade=DECADE, onset_s=ONSET_S)
    assert new.cents(ONSET_S * (10**decades - 1)) == approx(-DECADE * decades)


@given(now=st.floats(0.0, 1e5), later=st.floats(0.0, 1e5))
def test_it_falls_ever_more_slowly(now, later) -> None:
    new = Creep(cents_per_decade=DECADE, onset_s=ONSET_S)
    assert new.cents(now + later) <= new.cents(now)
    assert new.cents(now + later) - new.cents(now) >= new.cents(later) - 1e-9


def test_a_settled_string_stays() -> None:
    old = Creep(cents_per_decade=0.0, onset_s=ONSET_S)
    assert old.is_over()
    assert old.cents(1e6) == 0.0
    assert not Creep(cents_per_decade=DECADE, onset_s=ONSET_S).is_over()


def test_a_string_that_warms_faster_dips_and_comes_part_of_the_way_back() -> None:
    """Both become 5 K warmer: the string at once, flat by 12 ppm/K; then the body follows by 4 ppm/K."""
    warming = climate()
    assert warming.strain(0.0) == 0.0
    assert warming.strain(120.0) < warming.strain(1e6) < 0.0
    assert warming.strain(1e6) == approx(-5.0 * (12.0 - 4.0) * 1e-6)


@given(string=st.floats(-20.0, 20.0), body=st.floats(-20.0, 20.0), seconds=st.floats(0.0, 1e4))
def test_the_sign_follows_from_the_expansions(string, body, seconds) -> None:
    """Swapped expansions and changes give the opposite strain at equal paces; equal ones give none."""
    paces = {"string_pace_s": 100.0, "body_pace_s": 100.0, "string_change_k": 3.0, "body_change_k": 3.0}
    one = climate(string_expansion_ppm_k=string, body_expansion_ppm_k=body, **paces)
    other = climate(string_expansion_ppm_k=body, body_expansion_ppm_k=string, **paces)
    assert one.strain(seconds) == approx(-other.strain(seconds), abs=1e-15)
    assert (one.strain(1e4) > 0) == (body - string > 0) or abs(body - string) < 1e-9


def test_each_reaches_63_percent_in_its_own_time() -> None:
    """1 - 1/e of the change after one pace, the definition of a time constant."""
    assert climate(body_change_k=0.0).strain(20.0) == approx(-5.0 * 12e-6 * 0.632121, rel=1e-5)
    assert climate(string_change_k=0.0).strain(600.0) == approx(5.0 * 4e-6 * 0.632121, rel=1e-5)


def test_nothing_changes_in_a_steady_climate() -> None:
    assert climate(string_change_k=0.0, body_change_k=0.0).is_steady()
    assert climate(string_change_k=0.0, body_change_k=0.0).strain(1e6) == 0.0
    assert not climate(string_change_k=0.0).is_steady()
    assert not climate(body_change_k=0.0).is_steady()
