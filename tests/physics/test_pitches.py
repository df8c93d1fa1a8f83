"""The pitch table and the cent against numbers from outside, each with its source."""

import pytest
from pytest import approx

from models.strings.vibration import tension_n
from models.units import cents, midi_hz, note_hz, shifted

# Printed frequencies: OEIS A329211 and A329207; CRC Handbook of Chemistry and Physics, table 14_22; Engineering
# ToolBox; Interactive Mathematics. Tolerance: half a unit of the last printed digit.
PITCHES = [
    ("E4", 329.6275569128699, 1e-9),
    ("C4", 261.6255653005, 1e-9),
    ("E2", 82.407, 0.0005),
    ("D2", 73.416, 0.0005),
    ("E1", 41.20, 0.005),
    ("A1", 55.00, 0.005),
    ("G2", 98.00, 0.005),
    ("A2", 110.0, 0.05),
    ("D3", 146.83, 0.005),
    ("G3", 196.00, 0.005),
    ("B3", 246.94, 0.005),
    ("D4", 293.66, 0.005),
    ("G4", 392.00, 0.005),
    ("E5", 659.26, 0.005),
]


@pytest.mark.parametrize(("note", "printed_hz", "rounding_hz"), PITCHES, ids=[row[0] for row in PITCHES])
def test_pitch_of_notes(note: str, printed_hz: float, rounding_hz: float) -> None:
    assert note_hz(note) == approx(printed_hz, abs=rounding_hz)


@pytest.mark.parametrize(("number", "note"), [(28, "E1"), (40, "E2"), (55, "G3"), (60, "C4"), (69, "A4"), (76, "E5")])
def test_notes_have_their_midi_numbers(number: int, note: str) -> None:
    """MIDI Tuning Standard: ``440 * 2^((n - 69)/12)``."""
    assert midi_hz(number) == approx(note_hz(note), rel=1e-12)


def test_a_pure_fifth_is_two_cents_wider_than_a_tempered_one() -> None:
    """3/2 is 701.955 cents (any text on acoustics); a violin in pure fifths has its E at 660.00 Hz."""
    assert cents(3.0, 2.0) == approx(701.955, abs=0.001)
    assert shifted(440.0, 701.955) == approx(660.0, abs=0.001)


def test_one_cent_is_a_thousandth_of_the_tension() -> None:
    """``dT/T = 2 ln2 / 1200 = 0.00115525`` and a beat of 0.2542 Hz at A4, by definition of the cent."""
    pulled = [tension_n(shifted(440.0, off), 1e-3, 0.6) for off in (0.0, 0.001)]
    assert pulled[1] / pulled[0] - 1 == approx(0.00115525e-3, rel=1e-5)
    assert shifted(440.0, 1.0) - 440.0 == approx(0.2542, abs=5e-5)
