"""Worm gears against numbers from outside, each with its source."""

import math

import pytest
from pytest import approx

from models.head.gear import Head

# Shigley, Mechanical Engineering Design, table 13-6 (from memory; 5 degrees from the formula): efficiency at f = 0.05.
# The table's thread has a flank angle (14.5 degrees reproduce it); a head neglects it.
SHIGLEY = [(1.0, 25.2), (2.5, 45.7), (5.0, 62.6), (7.5, 71.3), (10.0, 76.6), (15.0, 82.7), (20.0, 85.9), (30.0, 89.1)]


def worm(lead_deg: float, friction: float, ratio: float = 18.0) -> Head:
    return Head(
        ratio=ratio,
        post_radius_mm=3.0,
        lead_angle_deg=lead_deg,
        worm_friction=friction,
        backlash_deg=0.0,
        post_friction_nmm=0.0,
        tightens="clockwise",
    )


def flanked_efficiency(lead_deg: float, friction: float, flank_deg: float) -> float:
    """Return ``(cos phi - f tan l) / (cos phi + f cot l)`` (Mechanical Engineer's Data Handbook, p. 99)."""
    lead, flank = math.radians(lead_deg), math.cos(math.radians(flank_deg))
    return (flank - friction * math.tan(lead)) / (flank + friction / math.tan(lead))


@pytest.mark.parametrize(("lead_deg", "percent"), SHIGLEY)
def test_worm_efficiency(lead_deg: float, percent: float) -> None:
    """Without flank angle the head's formula is the handbook's; the flank costs at most 1 point, never gains."""
    found = worm(lead_deg, 0.05).efficiency_up()
    assert found == approx(flanked_efficiency(lead_deg, 0.05, 0.0), rel=1e-12)
    assert flanked_efficiency(lead_deg, 0.05, 14.5) * 100 == approx(percent, abs=0.1)
    assert 0.0 <= found * 100 - flanked_efficiency(lead_deg, 0.05, 14.5) * 100 <= 1.0


@pytest.mark.parametrize("friction", [0.05, 0.1, 0.15, 0.2])
def test_a_worm_locks_when_its_lead_is_below_the_friction_angle(friction: float) -> None:
    """``lead < arctan f`` (novasolver.jp, worm gear; Shigley eq. 13 with flank angle 0)."""
    critical_deg = math.degrees(math.atan(friction))
    assert worm(critical_deg - 0.01, friction).self_locking()
    assert not worm(critical_deg + 0.01, friction).self_locking()


@pytest.mark.parametrize(("lead_deg", "friction"), [(lead, f) for lead in (2, 5, 9) for f in (0.05, 0.12, 0.2)])
def test_below_an_efficiency_of_45_percent_every_worm_locks(lead_deg: float, friction: float) -> None:
    """Rule of a gear maker (SEVA-tec): locks below 0.45, uncertain to 0.55, never above."""
    head = worm(lead_deg, friction)
    if head.efficiency_up() < 0.45:
        assert head.self_locking()
    if head.efficiency_up() > 0.55:
        assert not head.self_locking()
