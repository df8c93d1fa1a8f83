"""What breaks a string and what it then lets go: closed forms, and a run of the loop that keeps to them."""

import math

import pytest
from pytest import approx

from models.strings.material import breaking_tension_n
from models.strings.recoil import recoil_speed_m_s, stored_energy_j, wave_speed_m_s
from models.strings.tension import Strung
from models.strings.vibration import frequency_hz, tension_n
from models.strings.winding import area_mm2, plain_unit_weight_g_per_m
from models.units import cents, note_hz
from scenarios.load import load_rig
from sim.corners import trace
from sim.evaluate import Bench, record_of
from sim.series.row import Item
from sim.trace import Outcome

E_PA, RHO = 203.4e9, 7850.0  # music wire below 0.8 mm: Shigley, table 10-5; density: EN 10270-1 sheet
LENGTH_M, TOTAL_M = 0.648, 0.750
E4_PA = RHO * (2.0 * LENGTH_M * note_hz("E4")) ** 2

# -- A wrong octave -------------------------------------------------------------------------------------------------

OCTAVE_LOW = (
    'faults.a.kind="octave-low"',
    'acceptance.order=""',
    'motor.part="ideal"',
    'nut.part="free"',
    'strategies.named.kind="proportional"',
    "strategies.named.deadband_cents=2.0",
    "strategies.named.largest_move_deg=100000",
    "coupler.slop_deg=0",
    *(f"ear.{key}=0" for key in ("run_cents", "pluck_cents", "reading_cents", "missed_share", "clock_ppm")),
    *(f"ear.{key}=0" for key in ("octave_low_share", "octave_high_share")),
)


def breaking_move(string: Strung, start_cents: float, newton_per_cent: float) -> int:
    """Return the move that breaks a string when every reading is an octave low.

    Each move adds ``newton_per_cent (1200 - c)`` to the tension, since winding is linear in the turn; ``c`` follows
    from Mersenne's law with the string thinned by its stretch.
    """

    def first_partial_cents(pull_n: float) -> float:
        squared = (pull_n + string.bending_n) * (1.0 + pull_n / string.ea_n) / string.mass_n_s2
        return 600.0 * math.log2(squared / string.target_hz**2)

    pull_n, moves = string.tension_at_hz(string.target_hz * 2.0 ** (start_cents / 1200.0)), 0
    while pull_n < string.breaking_n:
        pull_n, moves = pull_n + newton_per_cent * (1200.0 - first_partial_cents(pull_n)), moves + 1
    return moves


@pytest.mark.parametrize("gain", [0.6, 0.2, 0.06])
@pytest.mark.parametrize("start_cents", [-300, -60, 0, 45])
def test_a_reading_an_octave_low_breaks_the_string_at_the_predicted_move(start_cents: int, gain: float) -> None:
    """Independent arithmetic; the strategy has no largest move, the rig no guard and no acceptance."""
    changes = (*OCTAVE_LOW, f"strategies.named.gain_deg_per_cent={gain}", f"instrument.start_cents={start_cents}")
    scenario = load_rig("default", changes=changes)
    strategies = [each.name for each in scenario.strategies]
    place = tuple(scenario.strings).index("E4")
    chain = Bench((scenario,), 1).rig(Item(0, strategies.index("named"), place, 0, 0)).chain
    run = trace(record_of(scenario, "named", "E4"))
    newton_per_deg = chain.string.stiffness_n_m * chain.string.winding_radius_m * math.pi / 180.0 / chain.ratio
    assert run.outcome is Outcome.STRING_BROKE
    assert len(run.commands) == breaking_move(chain.string, start_cents, gain * newton_per_deg)
    assert max(run.tension_n) == approx(chain.string.breaking_n, rel=1e-6)


# -- Strength -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gauge_mm", [0.2032, 0.254, 0.3302])
@pytest.mark.parametrize("strength_mpa", [1800.0, 2668.3])
def test_breaking_pitch_moves_only_through_strength(gauge_mm: float, strength_mpa: float) -> None:
    """``f = sqrt(strength / rho) / 2L``, the gauge cancels; twice the strength is half an octave (closed form)."""
    mu = plain_unit_weight_g_per_m(gauge_mm, RHO) * 1e-3
    breaks_hz = frequency_hz(breaking_tension_n(strength_mpa, 1.0, area_mm2(gauge_mm)), mu, LENGTH_M)
    assert breaks_hz == approx(math.sqrt(strength_mpa * 1e6 / RHO) / (2.0 * LENGTH_M), rel=1e-12)
    doubled_hz = frequency_hz(breaking_tension_n(2.0 * strength_mpa, 1.0, area_mm2(gauge_mm)), mu, LENGTH_M)
    assert cents(doubled_hz, breaks_hz) == approx(600.0, abs=1e-9)


@pytest.mark.parametrize("gauge_mm", [0.2032, 0.254, 0.3302])
def test_share_of_strength_at_pitch_does_not_depend_on_gauge(gauge_mm: float) -> None:
    """``sigma = rho (2 L f)^2`` of one strength, at any gauge (Mersenne's law)."""
    mu = plain_unit_weight_g_per_m(gauge_mm, RHO) * 1e-3
    pull_n = tension_n(note_hz("E4"), mu, LENGTH_M)
    assert pull_n / breaking_tension_n(2668.3, 1.0, area_mm2(gauge_mm)) == approx(E4_PA / 2668.3e6, rel=1e-12)


# -- Recoil ---------------------------------------------------------------------------------------------------------


def test_speed_of_the_free_end_of_a_plain_e4() -> None:
    """1433 MPa, 203.4 GPa, 7850 kg/m3: 35.862 m/s (independent arithmetic: 1433e6 over the root of E rho)."""
    assert recoil_speed_m_s(1433e6, E_PA, RHO) == approx(35.862, abs=5e-4)


def test_speed_of_sound_in_a_steel_rod() -> None:
    """5.1 km/s for longitudinal waves in a steel rod (tables of physics, from memory)."""
    assert wave_speed_m_s(E_PA, RHO) == approx(5100.0, abs=50.0)


@pytest.mark.parametrize("gauge_mm", [0.2032, 0.254, 0.3302])
def test_the_recoil_carries_the_stored_energy(gauge_mm: float) -> None:
    """Of uniform strain ``v = sqrt(2 W / m)``: all that was stored moves (closed form)."""
    area_m2 = area_mm2(gauge_mm) * 1e-6
    held_j = stored_energy_j(E4_PA * area_m2, E_PA * area_m2 / TOTAL_M)
    mass_kg = RHO * area_m2 * TOTAL_M
    assert recoil_speed_m_s(E4_PA, E_PA, RHO) == approx(math.sqrt(2.0 * held_j / mass_kg), rel=1e-12)


def test_the_stored_energy_is_the_work_of_stretching() -> None:
    """72.59 N on 13512 N/m: half of force times way, 0.195 J (independent arithmetic)."""
    way_m = 72.591 / 13512.2
    assert stored_energy_j(72.591, 13512.2) == approx(0.5 * 72.591 * way_m, rel=1e-12)
    assert stored_energy_j(72.591, 13512.2) == approx(0.195, abs=5e-4)
