"""Strings of the library against published tensions, wire strength and closed forms.

Chart: D'Addario, "A complete technical reference for fretted instrument string tensions": unit weight in lb/in, scale
in inches and the tension printed to 0.1 lbf.
"""

import math
from dataclasses import dataclass, replace

import pytest

from models.strings.tension import String, strung
from models.strings.vibration import tension_n
from models.strings.winding import area_mm2
from models.units import target_hz
from scenarios import library
from scenarios.load import load_text
from scenarios.schema import Part, Range

INCH_M = 0.0254
LB_KG = 0.45359237
LBF_N = LB_KG * 386.4 * INCH_M  # with the chart's own 386.4 in/s2
PRINTED = 0.07  # lbf: rounding to 0.1 and of the weights; largest error over the chart's 2725 entries is 0.068


@dataclass(frozen=True)
class Row:
    """One row of the chart, and how far above pitch the core breaks at A228's lowest strength."""

    instrument: str
    string: str
    lb_per_in: float
    scale_in: float
    lbf: float
    break_cents: float
    """Independent arithmetic: 600 log2(2190 MPa / d^0.1443 * core area / tension), none of it from this program."""

    def __str__(self) -> str:
        return f"{self.instrument}-{self.string}"


ROWS = [
    Row("steel-string-guitar", "E4", 3.190e-5, 25.5, 23.3, 520),
    Row("steel-string-guitar", "B3", 5.671e-5, 25.5, 23.3, 985),
    Row("steel-string-guitar", "G3", 1.1682e-4, 25.5, 30.2, 362),
    Row("steel-string-guitar", "D3", 2.1018e-4, 25.5, 30.5, 536),
    Row("steel-string-guitar", "A2", 3.6722e-4, 25.5, 29.9, 768),
    Row("steel-string-guitar", "E2", 5.6962e-4, 25.5, 26.0, 1077),
    Row("electric-guitar", "E4", 2.215e-5, 25.5, 16.2, 543),
    Row("electric-guitar", "B3", 3.744e-5, 25.5, 15.4, 1010),
    Row("electric-guitar", "G3", 6.402e-5, 25.5, 16.6, 1377),
    Row("electric-guitar", "D3", 1.2671e-4, 25.5, 18.4, 916),
    Row("electric-guitar", "A2", 2.3964e-4, 25.5, 19.5, 979),
    Row("electric-guitar", "E2", 3.8216e-4, 25.5, 17.5, 1283),
    Row("electric-bass", "G2", 3.724e-4, 34.0, 42.8, 601),
    Row("electric-bass", "D2", 7.9569e-4, 34.0, 51.3, 812),
    Row("electric-bass", "A1", 1.33702e-3, 34.0, 48.4, 1131),
    Row("electric-bass", "E1", 1.98395e-3, 34.0, 40.3, 1519),
    Row("mandolin", "E5a", 2.680e-5, 13.875, 23.2, 388),
    Row("mandolin", "A4b", 4.984e-5, 13.875, 19.2, 1049),
    Row("mandolin", "D4a", 1.355e-4, 13.875, 23.3, 654),
    Row("mandolin", "G3b", 3.285e-4, 13.875, 25.1, 921),
]
NYLON = [
    Row("classical-guitar", "E4", 2.092e-5, 25.5, 15.3, math.nan),
    Row("classical-guitar", "B3", 2.827e-5, 25.5, 11.6, math.nan),
    Row("classical-guitar", "G3", 4.679e-5, 25.5, 12.1, math.nan),
    Row("classical-guitar", "D3", 1.0754e-4, 25.5, 15.6, math.nan),
    Row("classical-guitar", "A2", 1.8416e-4, 25.5, 15.0, math.nan),
    Row("classical-guitar", "E2", 3.0632e-4, 25.5, 14.0, math.nan),
]


def parts(instrument: str) -> dict[str, Part]:
    """Return all strings of a library instrument as the reader completes them."""
    return dict(load_text(f'format = 1\n[instrument]\npart = "{instrument}"\n', "library.toml").strings)


def nominal(instrument: str, string: str) -> String:
    found: String = parts(instrument)[string].nominal()
    return found


def tension(string: String) -> float:
    """Return the tension at pitch by Mersenne's law."""
    return tension_n(target_hz(string.target, 440.0), string.unit_weight_g_per_m * 1e-3, string.length_mm * 1e-3)


@pytest.mark.parametrize("row", ROWS + NYLON, ids=str)
def test_unit_weight_is_the_published_one(row: Row) -> None:
    published = row.lb_per_in * LB_KG / INCH_M * 1e3
    assert nominal(row.instrument, row.string).unit_weight_g_per_m == pytest.approx(published, rel=2e-4)


@pytest.mark.parametrize("row", ROWS + NYLON, ids=str)
def test_tension_on_the_charts_scale_is_the_published_one(row: Row) -> None:
    on_chart = replace(nominal(row.instrument, row.string), length_mm=row.scale_in * 25.4, total_length_mm=1500.0)
    assert tension(on_chart) / LBF_N == pytest.approx(row.lbf, abs=PRINTED)


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_a_straight_core_of_lowest_strength_breaks_where_the_wire_table_says(row: Row) -> None:
    """At least at the cents of the tension ratio; thinning by stretch adds up to 12 cents (2 % of strain at most)."""
    part = parts(row.instrument)[row.string]
    lowest = part.values["strength_mpa"]
    assert isinstance(lowest, Range)
    string = replace(part.nominal(), strength_mpa=lowest.low, knot_factor=1.0)
    reserve = strung(string, 3.0, target_hz(string.target, 440.0)).reserve_cents()
    assert row.break_cents - 4.0 <= reserve <= row.break_cents + 12.0


@pytest.mark.parametrize("row", [row for row in ROWS if row.string in ("E4", "B3", "A2", "E2", "G2")], ids=str)
def test_stiffness_covers_published_moduli(row: Row) -> None:
    """Shigley Table 10-5: 203.4 GPa for music wire below 0.8 mm; Grimes 2014 measured 177.6 to 188.4 on strings."""
    part = parts(row.instrument)[row.string]
    stiffness, area = part.values["axial_stiffness_kn"], area_mm2(part.nominal().core_mm)
    assert isinstance(stiffness, Range)
    assert stiffness.low <= 0.99 * 188.4 * area <= 203.4 * area <= stiffness.high


def test_stress_of_a_plain_string_does_not_depend_on_its_gauge() -> None:
    """Closed form ``stress = rho (2 L f)^2``; 1433 MPa for E4 on 648 mm at 7850 kg/m3 (strings: 7806)."""
    for instrument in ("steel-string-guitar", "electric-guitar"):
        string = nominal(instrument, "E4")
        assert tension(string) / area_mm2(string.gauge_mm) == pytest.approx(1433.0, rel=0.01)


@pytest.mark.parametrize(
    ("string", "low", "high"), [("E5", 71.4, 90.7), ("A4", 48.3, 62.7), ("D4", 34.3, 60.6), ("G3", 35.0, 51.1)]
)
def test_violin_strings_lie_in_the_published_range(string: str, low: float, high: float) -> None:
    """Guettler, Typical string properties, at 328 mm (read second-hand)."""
    assert low <= tension(nominal("violin", string)) <= high


@pytest.mark.parametrize("instrument", library.part_names()["instrument"])
def test_no_string_breaks_at_pitch_in_its_worst_corner(instrument: str) -> None:
    """Heaviest string, weakest core, worst knot: even that one must reach its pitch with a semitone to spare."""
    worst = {"unit_weight_g_per_m": 1.0, "strength_mpa": 0.0, "knot_factor": 0.0}
    for part in parts(instrument).values():
        string = part.drawn(lambda key: worst.get(key.rpartition(".")[2], 0.5))
        assert strung(string, 3.0, target_hz(string.target, 440.0)).reserve_cents() > 100.0


@pytest.mark.parametrize("instrument", library.part_names()["instrument"])
def test_every_string_is_longer_from_post_to_anchor_than_from_nut_to_saddle(instrument: str) -> None:
    for part in parts(instrument).values():
        for share in (0.0, 1.0):
            string = part.drawn(lambda key, share=share: share)
            assert string.length_mm < string.total_length_mm
