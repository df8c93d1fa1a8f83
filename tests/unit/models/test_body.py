"""Strings on one body: the closed form against a linear solve of the whole instrument."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.body import Coupling

STIFFNESS = st.lists(st.floats(1e3, 3e4), min_size=2, max_size=8)


def solved(coupling: Coupling, wound_m: np.ndarray) -> np.ndarray:
    """Return tensions from all windings at once: ``T_i + k_i C sum(T) = k_i x_i``."""
    stiffness = np.array(list(coupling.stiffness_n_m.values()))
    matrix = np.eye(len(stiffness)) + coupling.compliance_m_n * stiffness[:, None]
    return np.linalg.solve(matrix, stiffness * wound_m)


def coupled(stiffness: list[float], compliance_m_n: float) -> tuple[Coupling, frozenset[str]]:
    names = [f"s{number}" for number in range(len(stiffness))]
    return Coupling(compliance_m_n, dict(zip(names, stiffness, strict=True))), frozenset(names)


@given(stiffness=STIFFNESS, compliance=st.floats(0.0, 2e-4), data=st.data())
def test_one_string_wound_is_what_the_whole_instrument_says(stiffness, compliance: float, data) -> None:
    """Independent arithmetic: numpy solves all strings at once, before and after one of them was wound."""
    coupling, taut = coupled(stiffness, compliance)
    place = data.draw(st.integers(0, len(stiffness) - 1))
    wound = np.full(len(stiffness), 5e-3)
    before = solved(coupling, wound)
    wound[place] += 0.4e-3
    rises = solved(coupling, wound) - before
    name = f"s{place}"
    own_n_m = 1.0 / (1.0 / stiffness[place] + coupling.give_m_n(name, taut))
    assert own_n_m * 0.4e-3 == pytest.approx(rises[place], rel=1e-9)
    pulled = coupling.pulled_n(name, float(rises[place]), taut)
    assert name not in pulled
    for other, change_n in pulled.items():
        assert change_n == pytest.approx(rises[int(other[1:])], rel=1e-6, abs=1e-9)


@given(stiffness=STIFFNESS, compliance=st.floats(1e-7, 2e-4))
def test_a_string_that_breaks_lets_the_others_rise(stiffness, compliance: float) -> None:
    """What is left is the instrument without that string, its body relieved."""
    coupling, taut = coupled(stiffness, compliance)
    wound = np.full(len(stiffness), 5e-3)
    before = solved(coupling, wound)
    left, _ = coupled(stiffness[1:], compliance)
    after = solved(left, wound[1:])
    pulled = coupling.pulled_n("s0", -float(before[0]), taut)
    assert list(pulled.values()) == pytest.approx(list(after - before[1:]), rel=1e-6, abs=1e-9)
    assert min(pulled.values()) > 0.0


def test_a_rigid_body_lets_every_string_alone() -> None:
    coupling, taut = coupled([1e4, 2e4, 1.5e4], 0.0)
    assert coupling.give_m_n("s0", taut) == 0.0
    assert set(coupling.pulled_n("s0", 10.0, taut).values()) == {0.0}
