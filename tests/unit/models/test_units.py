"""Notes, cents and times: both ways agree, and what has no meaning is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from models.units import (
    SUFFIX_UNITS,
    cents,
    midi_hz,
    nearest_note,
    note_hz,
    shifted,
    to_ns,
    unit_of,
)

HERTZ = st.floats(10.0, 10_000.0)
A4 = st.floats(392.0, 466.0)


@given(number=st.integers(0, 127), a4_hz=A4)
def test_every_note_name_is_read_back(number: int, a4_hz: float) -> None:
    name, off = nearest_note(midi_hz(number, a4_hz), a4_hz)
    assert note_hz(name, a4_hz) == approx(midi_hz(number, a4_hz), rel=1e-12)
    assert off == approx(0.0, abs=1e-6)


@given(letter=st.sampled_from("ABCDEFG"), octave=st.integers(-1, 9), off=st.integers(-9999, 9999), a4_hz=A4)
def test_a_note_with_cents_lies_that_far_from_the_note(letter: str, octave: int, off: int, a4_hz: float) -> None:
    text = f"{letter}{octave}{off / 100:+.2f}"
    assert cents(note_hz(text, a4_hz), note_hz(f"{letter}{octave}", a4_hz)) == approx(off / 100, abs=1e-6)


@given(letter=st.sampled_from("ABCDEFG"), octave=st.integers(-1, 9))
def test_sharps_raise_and_flats_lower_by_semitones(letter: str, octave: int) -> None:
    plain = note_hz(f"{letter}{octave}")
    for accidental, semitones in {"#": 1, "##": 2, "b": -1, "bb": -2}.items():
        assert cents(note_hz(f"{letter}{accidental}{octave}"), plain) == approx(100 * semitones, abs=1e-9)


@given(frequency_hz=HERTZ, a4_hz=A4)
def test_the_nearest_note_is_within_half_a_semitone(frequency_hz: float, a4_hz: float) -> None:
    name, off = nearest_note(frequency_hz, a4_hz)
    assert abs(off) <= 50.0 + 1e-9
    assert shifted(note_hz(name, a4_hz), off) == approx(frequency_hz, rel=1e-9)


@pytest.mark.parametrize(
    "text",
    ["", "H2", "E", "2", "e2", "E2 ", " E2", "E10", "E-2", "E#b2", "E###2", "E2+", "E2--1", "E2+1e3", "E2+1,5", "E²"],
)  # fmt: skip
def test_what_is_not_a_note_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a note"):
        note_hz(text)


@given(st.text(max_size=8))
def test_any_text_is_a_note_or_refused(text: str) -> None:
    try:
        assert note_hz(text) > 0.0
    except ValueError as error:
        assert "is not a note" in str(error)


@given(reference_hz=HERTZ, by_cents=st.floats(-2400.0, 2400.0))
def test_cents_undo_a_shift(reference_hz: float, by_cents: float) -> None:
    assert cents(shifted(reference_hz, by_cents), reference_hz) == approx(by_cents, abs=1e-9)


@pytest.mark.parametrize("bad_hz", [0.0, -1.0, math.inf, math.nan])
def test_cents_of_no_pitch_are_refused(bad_hz: float) -> None:
    for pair in ((bad_hz, 440.0), (440.0, bad_hz)):
        with pytest.raises(ValueError, match="positive frequencies"):
            cents(*pair)


def test_times_become_whole_nanoseconds() -> None:
    assert (to_ns(0.0), to_ns(1.5), to_ns(1e-9), to_ns(0.1)) == (0, 1_500_000_000, 1, 100_000_000)


@pytest.mark.parametrize("bad_s", [-1e-9, math.inf, -math.inf, math.nan])
def test_times_without_meaning_are_refused(bad_s: float) -> None:
    with pytest.raises(ValueError, match="a time must be 0 s or more"):
        to_ns(bad_s)


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("gauge_mm", "mm"),
        ("unit_weight_g_per_m", "g/m"),
        ("post_friction_nmm", "N mm"),
        ("speed_deg_s", "deg/s"),
        ("gain_deg_per_cent", "deg/cent"),
        ("gain_deg_s_per_cent", "deg/s per cent"),
        ("ratio", ""),
        ("hears", ""),
    ],
)
def test_units_are_read_from_the_longest_suffix(key: str, unit: str) -> None:
    assert unit_of(key) == unit


@pytest.mark.parametrize("suffix", SUFFIX_UNITS)
def test_no_suffix_hides_a_longer_one(suffix: str) -> None:
    assert unit_of(f"any{suffix}") == SUFFIX_UNITS[suffix]
