"""Pitch, notes, cents and unit suffixes. Refuses what has no meaning, such as the cents of 0 Hz.

Cents are errors in pitch: ``1200 log2(f / f_target)``, positive = sharp.
"""

import math
import re
from typing import Final

CENTS_PER_OCTAVE: Final = 1200.0
A4_MIDI: Final = 69  # MIDI Tuning Standard: note number of A4
NANOSECONDS: Final = 1_000_000_000  # ns in a second: the loop's clock is an integer

# Key suffix -> unit as printed. The longest matching suffix wins.
SUFFIX_UNITS: Final = {
    "cents_per_decade": "cents/decade",
    "_cents_per_deg": "cents/deg",
    "_g_per_m": "g/m",
    "_um_per_n": "um/N",
    "_db_v_pa": "dB re 1 V/Pa",
    "_db_octave": "dB/octave",
    "_db_spl": "dB SPL",
    "_nv_rthz": "nV/sqrt(Hz)",
    "_bytes": "bytes",
    "_mhz": "MHz",
    "_khz": "kHz",
    "_deg_per_cent": "deg/cent",
    "_deg_per_nm": "deg/(N m)",
    "_deg_s_per_cent": "deg/s per cent",
    "_deg_s": "deg/s",
    "_cents": "cents",
    "_percent": "%",
    "_turns": "turns",
    "_ohm": "ohm",
    "_nmm": "N mm",
    "_mpa": "MPa",
    "_gpa": "GPa",
    "_kg_m3": "kg/m3",
    "_hz": "Hz",
    "_ppm_k": "ppm/K",
    "_ppm": "ppm",
    "_deg": "deg",
    "_mm": "mm",
    "_kn": "kN",
    "_nm": "N m",
    "_us": "us",
    "_ms": "ms",
    "_db": "dB",
    "_ah": "Ah",
    "_n": "N",
    "_s": "s",
    "_v": "V",
    "_a": "A",
    "_k": "K",
}

_NOTE = re.compile(r"([A-G])(#{1,2}|b{1,2})?(-1|\d)([+-]\d+(?:\.\d+)?)?")
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def unit_of(key: str) -> str:
    """Return the unit that the suffix of ``key`` names, ``""`` for a pure number or a word."""
    return next((unit for suffix, unit in SUFFIX_UNITS.items() if key.endswith(suffix)), "")


def cents(frequency_hz: float, reference_hz: float) -> float:
    """Return ``1200 log2(frequency / reference)``.

    Raises ``ValueError`` unless both are positive and finite.
    """
    if not (0 < frequency_hz < math.inf and 0 < reference_hz < math.inf):
        raise ValueError(f"cents need two positive frequencies, got {frequency_hz} Hz and {reference_hz} Hz")
    return CENTS_PER_OCTAVE * math.log2(frequency_hz / reference_hz)


def shifted(frequency_hz: float, by_cents: float) -> float:
    """Return the frequency ``by_cents`` above ``frequency_hz`` (below for negative cents)."""
    return frequency_hz * float(2.0 ** (by_cents / CENTS_PER_OCTAVE))


def midi_hz(number: float, a4_hz: float = 440.0) -> float:
    """Return the frequency of a MIDI note number: ``a4 * 2^((n - 69)/12)`` (MIDI Tuning Standard)."""
    return a4_hz * float(2.0 ** ((number - A4_MIDI) / 12.0))


def note_hz(text: str, a4_hz: float = 440.0) -> float:
    """Return the frequency of a note in equal temperament, with optional cents: ``"E2"``, ``"Bb3"``, ``"G3-3.9"``.

    Octave numbers run from -1 to 9 (scientific pitch notation, A4 = ``a4_hz``). Raises ``ValueError`` for anything
    that is not a note.
    """
    match = _NOTE.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is not a note such as E2, Bb3 or G3-3.9")
    letter, accidental, octave, off = match.groups()
    shift = {"": 0, "#": 1, "b": -1}[(accidental or "")[:1]] * len(accidental or "")
    number = 12 * (int(octave) + 1) + _SEMITONES[letter] + shift
    return midi_hz(number + float(off or 0.0) / 100.0, a4_hz)


def target_hz(text: str, a4_hz: float = 440.0) -> float:
    """Return the frequency of a target: a note, a note with cents, or hertz such as ``"195.6 Hz"``.

    Raises ``ValueError`` for anything else, and for hertz that are not positive and finite.
    """
    number = re.fullmatch(r"(\d+(?:\.\d+)?) ?Hz", text)
    if number is None:
        return note_hz(text, a4_hz)
    if not 0 < float(number.group(1)) < math.inf:
        raise ValueError(f"{text!r} is no pitch")
    return float(number.group(1))


def nearest_note(frequency_hz: float, a4_hz: float = 440.0) -> tuple[str, float]:
    """Return the nearest equal-tempered note and how many cents ``frequency_hz`` lies above it."""
    number = A4_MIDI + cents(frequency_hz, a4_hz) / 100.0
    nearest = round(number)
    return f"{_NAMES[nearest % 12]}{nearest // 12 - 1}", 100.0 * (number - nearest)


def to_ns(seconds: float) -> int:
    """Return ``seconds`` (finite, 0 or more) as whole nanoseconds.

    Raises ``ValueError`` for negative, infinite or undefined times.
    """
    if not 0 <= seconds < math.inf:
        raise ValueError(f"a time must be 0 s or more and finite, got {seconds}")
    return round(seconds * NANOSECONDS)
