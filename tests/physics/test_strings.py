"""Strings against numbers from outside, each with its source; tolerances are the printed rounding."""

import pytest
from pytest import approx

from models.strings.material import breaking_tension_n, strength_at
from models.strings.tension import Strung
from models.strings.vibration import (
    bending_term_n,
    frequency_hz,
    inharmonicity,
    partial_hz,
    stretched_unit_weight,
    tension_n,
)
from models.strings.winding import area_mm2, plain_unit_weight_g_per_m, wound_unit_weight_g_per_m
from models.units import cents, note_hz

INCH_M = 0.0254  # exact by definition
LBF_N = 4.4482216152605  # exact by definition
LB_PER_INCH_KG_M = 0.45359237 / INCH_M
CHART_G_INCH_S2 = 386.4  # standard gravity as the chart rounds it; 386.0886 in/s2 is 0.7 cent away
MPA_PER_KSI = 6.894757293168

# -- Mersenne -------------------------------------------------------------------------------------------------------


def test_wave_speed_of_a_guitar_high_e() -> None:
    """OpenStax University Physics 1, example 16.5: inputs published, printed answer 427.23 m/s from memory."""
    length_m = 0.65
    assert 2 * length_m * frequency_hz(56.40, 3.09e-4, length_m) == approx(427.23, abs=0.01)


def test_tension_of_a_low_e_with_the_same_wave_speed() -> None:
    """OpenStax, the same example: 1055.00 N from memory; the book rounds the speed first."""
    assert tension_n(427.23 / (2 * 0.65), 5.78e-3, 0.65) == approx(1055.00, abs=0.05)


def test_fundamental_of_a_worked_example() -> None:
    """theprimecalculator.com, string vibration calculator, worked example: 207.8 Hz published."""
    assert frequency_hz(73.0, 0.001, 0.65) == approx(207.8, abs=0.05)


def test_mass_counts_on_the_whole_string_and_pitch_on_the_speaking_length() -> None:
    """Giancoli's guitar string: 0.90 m weigh 3.6 g, 0.60 m vibrate, 520 N; 300 Hz from memory."""
    assert frequency_hz(520.0, 3.6e-3 / 0.90, 0.60) == approx(300.0, abs=1.0)


def test_unit_weight_is_mass_over_length() -> None:
    """OpenStax University Physics 1, section 16.3: 2.00 m of 0.06 kg have 0.03 kg/m, so 12 N give 20 m/s."""
    assert tension_n(20.0 / (2 * 1.0), 0.06 / 2.00, 1.0) == approx(12.0, rel=1e-12)


# D'Addario, A complete technical reference for fretted instrument string tensions: product, unit weight in lb/in,
# scale in inches, note, printed tension in lbf.
TENSION_CHART = [
    ("PL010", 2.215e-05, 25.5, "E4", 16.2),
    ("PL012", 3.190e-05, 25.5, "E4", 23.3),
    ("PL016", 5.671e-05, 25.5, "B3", 23.3),
    ("PL017", 6.402e-05, 25.5, "G3", 16.6),
    ("PB024", 11.682e-05, 25.5, "G3", 30.2),
    ("PB032", 21.018e-05, 25.5, "D3", 30.5),
    ("PB042", 36.722e-05, 25.5, "A2", 29.9),
    ("PB053", 56.962e-05, 25.5, "E2", 26.0),
    ("NW026", 12.671e-05, 25.5, "D3", 18.4),
    ("NW036", 23.964e-05, 25.5, "A2", 19.5),
    ("NW046", 38.216e-05, 25.5, "E2", 17.5),
    ("J4501", 2.092e-05, 25.5, "E4", 15.3),
    ("J4502", 2.827e-05, 25.5, "B3", 11.6),
    ("J4503", 4.679e-05, 25.5, "G3", 12.1),
    ("J4504", 10.754e-05, 25.5, "D3", 15.6),
    ("J4505", 18.416e-05, 25.5, "A2", 15.0),
    ("J4506", 30.632e-05, 25.5, "E2", 14.0),
    ("XLB045", 37.240e-05, 34.0, "G2", 42.8),
    ("XLB065", 79.569e-05, 34.0, "D2", 51.3),
    ("XLB085", 133.702e-05, 34.0, "A1", 48.4),
    ("XLB105", 198.395e-05, 34.0, "E1", 40.3),
    ("J7401", 2.680e-05, 13.875, "E5", 23.2),
    ("J7402", 4.984e-05, 13.875, "A4", 19.2),
    ("J7403", 13.550e-05, 13.875, "D4", 23.3),
    ("J7404", 32.850e-05, 13.875, "G3", 25.1),
]


@pytest.mark.parametrize(
    ("lb_per_inch", "scale_inch", "note", "printed_lbf"),
    [row[1:] for row in TENSION_CHART],
    ids=[row[0] for row in TENSION_CHART],
)
def test_tension_at_pitch_of_the_published_chart(
    lb_per_inch: float, scale_inch: float, note: str, printed_lbf: float
) -> None:
    """Printed to 0.1 lbf, so 0.05; the chart divides by 386.4 in/s2 where a newton means 386.0886."""
    newtons = tension_n(note_hz(note), lb_per_inch * LB_PER_INCH_KG_M, scale_inch * INCH_M)
    gravity_m_s2 = LBF_N / 0.45359237
    assert newtons / LBF_N * gravity_m_s2 / (CHART_G_INCH_S2 * INCH_M) == approx(printed_lbf, abs=0.05)
    assert newtons / LBF_N == approx(printed_lbf, abs=0.05 + printed_lbf * 0.0009)  # without the chart's rounding of g


# Woodhouse, Plucked guitar transients, Acta Acustica 90, 945 (2004), table I (Pro-Arte composites, L = 0.65 m):
# tension, unit weight (to two or three digits, hence 7 cents; three of them from memory), note.
WOODHOUSE = [
    (70.3, 0.38, "E4"),
    (53.4, 0.52, "B3"),
    (58.3, 0.90, "G3"),
    (71.2, 1.95, "D3"),
    (73.9, 3.61, "A2"),
    (71.6, 6.24, "E2"),
]


@pytest.mark.parametrize(("newtons", "g_per_m", "note"), WOODHOUSE, ids=[row[2] for row in WOODHOUSE])
def test_pitch_of_the_nylon_strings_of_woodhouse(newtons: float, g_per_m: float, note: str) -> None:
    assert cents(frequency_hz(newtons, g_per_m * 1e-3, 0.65), note_hz(note)) == approx(0.0, abs=7.0)


# Pickering 1985 as tabulated in Desvages 2018 (read second-hand): tension, unit weight, impedance sqrt(T mu).
PICKERING = [("E5", 73.0, 0.41, 0.173), ("A4", 57.1, 0.72, 0.203), ("D4", 56.9, 1.61, 0.303), ("G3", 43.9, 2.79, 0.350)]


@pytest.mark.parametrize(("note", "newtons", "g_per_m", "impedance_kg_s"), PICKERING, ids=[row[0] for row in PICKERING])
def test_violin_strings_of_pickering(note: str, newtons: float, g_per_m: float, impedance_kg_s: float) -> None:
    """Impedance is ``mu * wave speed``, speed ``2 L f`` with L = 0.32 m; the pitch that follows is the note's."""
    pitch_hz = frequency_hz(newtons, g_per_m * 1e-3, 0.32)
    assert g_per_m * 1e-3 * 2 * 0.32 * pitch_hz == approx(impedance_kg_s, abs=6e-4)
    assert cents(pitch_hz, note_hz(note)) == approx(0.0, abs=1.0)


def test_stress_of_a_plain_string_does_not_depend_on_its_gauge() -> None:
    """``sigma = rho (2 L f)^2``: E4 at 648 mm is 1433 MPa at 7850 kg/m3 (independent arithmetic)."""
    for gauge_mm in (0.20, 0.254, 0.33):
        mu = plain_unit_weight_g_per_m(gauge_mm, 7850.0) * 1e-3
        assert tension_n(note_hz("E4"), mu, 0.648) / area_mm2(gauge_mm) == approx(1432.6, abs=0.1)


# -- Stretch --------------------------------------------------------------------------------------------------------


T0_N, EA_N, SEMITONE = 72.12, 10306.0, 2.0 ** (1 / 12)  # Grimes 2014, read second-hand


def plain_string(unit_weight_kg_m: float, length_m: float) -> Strung:
    """Return a string without stiffness whose unit weight is given at ``T0_N``."""
    return Strung(
        target_hz=frequency_hz(T0_N, unit_weight_kg_m, length_m),
        stiffness_n_m=EA_N / length_m,
        winding_radius_m=0.003,
        ea_n=EA_N,
        mass_n_s2=4 * length_m**2 * unit_weight_kg_m * (1 + T0_N / EA_N),
        bending_n=0.0,
        breaking_n=135.0,
        t60_s=5.0,
    )


def test_extra_tension_of_a_semitone_by_bending() -> None:
    """Grimes, PLoS ONE 9(7) e102088 (2014), eq. 6: 8.902 N more for a semitone by pulling the string aside.

    The material between the supports is then longer and thinner: ``f ~ sqrt(T / (1 + e))``.
    """
    strain = 8.902 / EA_N
    bent_hz = frequency_hz(T0_N + 8.902, stretched_unit_weight(4e-4, strain), 0.648 * (1 + strain))
    assert bent_hz / frequency_hz(T0_N, 4e-4, 0.648) == approx(SEMITONE, rel=0.005 / (2 * T0_N))


def test_extra_tension_of_a_semitone_by_winding() -> None:
    """At the peg the speaking length stays and the string in it thins: ``f ~ sqrt(T (1 + e))``.

    Less tension than the 8.832 N of a string that does not thin, by as much as bending takes more: about 0.07 N
    (independent arithmetic: ``dT (1 + T0 r^2/EA) = T0 (r^2 - 1)`` to first order in strain).
    """
    string = plain_string(4e-4, 0.648)
    more_n = string.tension_at_hz(string.target_hz * SEMITONE) - T0_N
    thinned_n = T0_N * (SEMITONE**2 - 1) / (1 + SEMITONE**2 * T0_N / EA_N)
    assert more_n == approx(thinned_n, abs=0.005)
    assert more_n < T0_N * (SEMITONE**2 - 1) < 8.902


def test_steel_at_e4_is_six_cents_sharper_than_its_unstretched_weight_says() -> None:
    """1433 MPa are a strain of 0.70 % at 203.4 GPa (Shigley), 6.0 cents by ``mu = mu0 / (1 + eps)`` (independent)."""
    strain = 1433.0 / 203.4e3
    thin_hz = frequency_hz(72.6, stretched_unit_weight(4e-4, strain), 0.648)
    assert strain == approx(0.0070, abs=5e-5)
    assert cents(thin_hz, frequency_hz(72.6, 4e-4, 0.648)) == approx(6.0, abs=0.1)


# -- Stiffness ------------------------------------------------------------------------------------------------------

# Jarvelainen & Karjalainen, Acta Acustica 92 (2006), read second-hand: measured B of open steel strings; the bending
# diameter was fitted to it by a third party, so that these rows test the formula only.
STIFF = [("E2", 0.477159, 110.759, 1.08e-4), ("A2", 0.437895, 128.554, 6.6e-5), ("D3", 0.412021, 133.002, 5.0e-5)]


@pytest.mark.parametrize(("diameter_mm", "newtons", "measured"), [row[1:] for row in STIFF], ids=[r[0] for r in STIFF])
def test_inharmonicity_of_open_steel_strings(diameter_mm: float, newtons: float, measured: float) -> None:
    bending_n = bending_term_n(200e9, diameter_mm * 1e-3, 0.648)
    assert inharmonicity(bending_n, newtons) == approx(measured, abs=1e-7)


def test_inharmonicity_of_a_violin_e() -> None:
    """Schoonderwaldt, Guettler & Askenfelt 2008 (second-hand): d 0.26 mm, 79.0 N, L 0.32 m; B = 5.7e-5 published."""
    assert inharmonicity(bending_term_n(200e9, 0.26e-3, 0.32), 79.0) == approx(5.7e-5, abs=0.3e-5)


def test_inharmonicity_of_an_electric_low_e() -> None:
    """Barbancho et al., IEEE TASLP 20 (2012), second-hand: B = 1.56e-4 measured, core about 0.4 of .046 in; 15 %."""
    bending_n = bending_term_n(207e9, 0.4 * 1.1684e-3, 0.6477)
    assert inharmonicity(bending_n, 77.8) == approx(1.56e-4, rel=0.15)


@pytest.mark.parametrize("diameter_cm", [0.0254, 0.05, 0.1])
def test_sharpness_of_partials_by_the_piano_tuners_formula(diameter_cm: float) -> None:
    """Young 1952 / McFerran: ``cents = 3.4e13 d^2 n^2 / (f^2 L^4)`` in cm and Hz, steel; printed to 1 %."""
    length_cm, hertz, number = 65.0, 220.0, 4
    newtons = tension_n(hertz, plain_unit_weight_g_per_m(diameter_cm * 10, 7850.0) * 1e-3, length_cm / 100)
    stiffness = inharmonicity(bending_term_n(200e9, diameter_cm / 100, length_cm / 100), newtons)
    printed = 3.4e13 * diameter_cm**2 * number**2 / (hertz**2 * length_cm**4)
    assert cents(partial_hz(number, hertz, stiffness), number * hertz) == approx(printed, rel=0.01)


def test_sharpness_of_the_tenth_partial() -> None:
    """Fletcher & Rossing, section 2.18: ``600 log2(1 + B n^2)``, 8.61 cents for B = 1e-4 and n = 10."""
    assert cents(partial_hz(10, 100.0, 1e-4), 1000.0) == approx(8.61, abs=0.01)


# -- Unit weight and strength ---------------------------------------------------------------------------------------


def test_density_that_the_chart_implies_is_that_of_steel() -> None:
    """7800 kg/m3 (T's Technical Notes on string steel); PL010 weighs 2.215e-5 lb/in (D'Addario)."""
    assert plain_unit_weight_g_per_m(0.254, 7800.0) == approx(2.215e-5 * LB_PER_INCH_KG_M * 1e3, rel=15 / 7800)


# D'Addario's chart beside the formula for round wrap; cores are estimates, and so is the wrap's density (from memory).
WOUND = [
    ("NW046", 0.046, 0.0165, 7850.0, 38.216e-05),
    ("PB053", 0.053, 0.018, 8800.0, 56.962e-05),
    ("PB024", 0.024, 0.0125, 8800.0, 11.682e-05),
]


@pytest.mark.parametrize(
    ("gauge_inch", "core_inch", "wrap_kg_m3", "lb_per_inch"), [row[1:] for row in WOUND], ids=[row[0] for row in WOUND]
)
def test_unit_weight_of_wound_strings(
    gauge_inch: float, core_inch: float, wrap_kg_m3: float, lb_per_inch: float
) -> None:
    found = wound_unit_weight_g_per_m(gauge_inch * 25.4, core_inch * 25.4, 7850.0, wrap_kg_m3)
    assert found == approx(lb_per_inch * LB_PER_INCH_KG_M * 1e3, rel=0.05)


# ASTM A228 minimum tensile strength as printed by Interwire Group (tinned coated music wire): inches, ksi.
A228 = [
    (0.004, 439), (0.005, 426), (0.006, 415), (0.007, 407), (0.008, 399), (0.009, 393), (0.010, 387), (0.011, 382),
    (0.012, 377), (0.013, 373), (0.014, 369), (0.015, 365), (0.016, 362), (0.018, 356), (0.020, 350), (0.022, 345),
    (0.024, 341), (0.026, 337), (0.028, 333), (0.030, 330), (0.032, 327), (0.034, 324), (0.036, 321), (0.038, 318),
]  # fmt: skip


@pytest.mark.parametrize(("inch", "ksi"), A228, ids=[f"{inch:.3f}in" for inch, _ in A228])
def test_strength_of_music_wire(inch: float, ksi: float) -> None:
    """A row left out of the table is found again from its neighbours within the printed 1 ksi."""
    others = [row for row in A228 if row[0] != inch]
    found = strength_at(inch, [row[0] for row in others], [float(row[1]) for row in others])
    if A228[0][0] < inch < A228[-1][0]:
        assert found == approx(ksi, abs=1.0)
    else:
        assert found == min(others, key=lambda row: abs(row[0] - inch))[1]  # flat beyond the ends


@pytest.mark.parametrize("inch", [0.008, 0.010, 0.012, 0.016, 0.020, 0.026])
def test_strength_lies_just_below_the_formula_of_shigley(inch: float) -> None:
    """Shigley, table 10-4: ``2211 / d^0.145`` MPa (from memory), 0.9 to 1.4 % above the A228 minimum here."""
    table_mpa = strength_at(inch, [row[0] for row in A228], [row[1] * MPA_PER_KSI for row in A228])
    shigley_mpa = 2211.0 / (inch * 25.4) ** 0.145
    assert 1.009 <= shigley_mpa / table_mpa <= 1.014


def test_the_lightest_guitar_string_breaks_half_an_octave_above_its_pitch() -> None:
    """.010 in at the A228 minimum of 387 ksi: 135.2 N; at 648 mm and 7850 kg/m3 E4 + 538 cents (independent)."""
    breaking_n = breaking_tension_n(387 * MPA_PER_KSI, 1.0, area_mm2(0.254))
    mu = plain_unit_weight_g_per_m(0.254, 7850.0) * 1e-3
    assert breaking_n == approx(135.2, abs=0.05)
    assert cents(frequency_hz(breaking_n, mu, 0.648), note_hz("E4")) == approx(538.0, abs=1.0)
