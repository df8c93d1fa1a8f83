"""WAV files: what other programs write is read to the last step, and every fault has its own line.

Layout of the files: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft 1991) and its
extensible format, made here with ``struct``; written besides by scipy and by the standard library.
"""

import struct
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy.io import wavfile

from sim.hearing.wave import WaveError, read, write

PCM, FLOAT, EXTENSIBLE = 1, 3, 0xFFFE
GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")  # of every subformat that has a format tag
FORMS = [(PCM, 8), (PCM, 16), (PCM, 24), (PCM, 32), (FLOAT, 32), (FLOAT, 64)]
SOUND = np.array([0.0, 0.5, -0.5, 0.25, -1.0, 0.9921875])  # whole steps of 8 bits


def packed(samples: Any, tag: int, bits: int) -> bytes:
    if tag == FLOAT:
        return np.asarray(samples, f"<f{bits // 8}").tobytes()
    steps = [round(value * 2 ** (bits - 1)) for value in samples]
    if bits == 8:
        return bytes(step + 128 for step in steps)
    return b"".join(step.to_bytes(bits // 8, "little", signed=True) for step in steps)


def chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack("<4sI", name, len(content)) + content + b"\0" * (len(content) % 2)


def riff(*chunks: bytes) -> bytes:
    body = b"WAVE" + b"".join(chunks)
    return struct.pack("<4sI", b"RIFF", len(body)) + body


def fmt(tag: int, bits: int, *, channels: int = 1, rate_hz: int = 8000, extensible: bool = False) -> bytes:
    frame = channels * bits // 8
    head = struct.pack("<HHIIHH", EXTENSIBLE if extensible else tag, channels, rate_hz, rate_hz * frame, frame, bits)
    tail = struct.pack("<HHIH", 22, bits, 0, tag) + GUID_TAIL if extensible else b""
    return chunk(b"fmt ", head + tail)


def made(samples: Any = SOUND, tag: int = PCM, bits: int = 16, **more: Any) -> bytes:
    return riff(fmt(tag, bits, **more), chunk(b"data", packed(samples, tag, bits)))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "own.wav"


@pytest.mark.parametrize("extensible", [False, True])
@pytest.mark.parametrize(("tag", "bits"), FORMS)
def test_every_form_is_read_to_the_last_step(file: Path, tag: int, bits: int, extensible: bool) -> None:
    file.write_bytes(made(SOUND, tag, bits, extensible=extensible, rate_hz=44100))
    found = read(file)
    assert_array_equal(found.samples, SOUND)
    assert (found.rate_hz, found.channels) == (44100, 1)
    assert found.form == f"{bits}-bit" + (" float" if tag == FLOAT else "")


@pytest.mark.parametrize("kind", ["u1", "<i2", "<i4", "<f4", "<f8"])
def test_what_scipy_writes_is_what_scipy_reads(file: Path, kind: str) -> None:
    steps = np.random.default_rng(1).uniform(-1.0, 1.0, (50, 2))
    full = 1.0 if kind[1] == "f" else 2.0 ** (8 * np.dtype(kind).itemsize - 1)
    rest = 128 if kind == "u1" else 0
    given_ = np.floor(steps * (full - 1.0) + rest).astype(kind) if kind[1] != "f" else steps.astype(kind)
    wavfile.write(file, 22050, given_)
    assert_allclose(read(file).samples, (given_.astype(float) - rest).mean(axis=1) / full, rtol=0, atol=1e-12)


def test_24_bits_of_the_standard_library(file: Path) -> None:
    with wave.open(str(file), "wb") as out:
        out.setparams((1, 3, 96000, 0, "NONE", "not compressed"))
        out.writeframes(packed([0.0, 1.0 - 2.0**-23, -(2.0**-23), -1.0], PCM, 24))
    assert_array_equal(read(file).samples, [0.0, 1.0 - 2.0**-23, -(2.0**-23), -1.0])


def test_two_channels_are_averaged(file: Path) -> None:
    file.write_bytes(made([0.5, 0.25, -0.5, 0.0], channels=2))
    assert_array_equal(read(file).samples, [0.375, -0.25])


def test_other_chunks_are_passed_over_with_their_padding(file: Path) -> None:
    note = chunk(b"LIST", b"odd")
    file.write_bytes(riff(note, fmt(PCM, 16), note, chunk(b"data", packed(SOUND, PCM, 16)), note))
    assert_array_equal(read(file).samples, SOUND)


def test_what_is_written_is_read_again_by_others(file: Path) -> None:
    """Steps of 16 bits; what lies beyond full scale is held there and does not wrap around."""
    sound = np.append(np.sin(np.arange(100.0)), [1.5, -1.5])
    write(file, sound, 24000)
    rate_hz, steps = wavfile.read(file)
    assert (rate_hz, steps.dtype, steps.ndim) == (24000, np.int16, 1)
    assert_allclose(steps / 32767.0, np.clip(sound, -1.0, 1.0), rtol=0, atol=0.5 / 32767.0)
    assert_allclose(read(file).samples, np.clip(sound, -1.0, 1.0), rtol=0, atol=2.0 / 32767.0)


WHOLE = made()
BAD = {
    "is empty": b"",
    "is no WAV file": b"ID3\x03 this is no sound at all",
    "truncated: its header promises 12 bytes of sound, 7 are there": WHOLE[:-5],
    "truncated: it ends before its 'data' chunk": WHOLE[:36],
    "truncated: it ends before its 'fmt' chunk": WHOLE[:12],
    "compressed (mu-law)": made(SOUND, 7, 8),
    "compressed (MP3)": riff(fmt(85, 0), chunk(b"data", b"xx")),
    "compressed (coded as number 4660)": made(SOUND, 0x1234, 8),
    "samples of 12 bits": riff(fmt(PCM, 12), chunk(b"data", b"xx")),
    "samples of 16 bits": riff(fmt(FLOAT, 16), chunk(b"data", b"xx")),
    "has 6 channels": made([0.0] * 6, channels=6),
    "has 0 channels": made([], channels=0),
    "has 0 samples/s": made(rate_hz=0),
    "no sound in it": made([]),
    "lasts 1200 s; at most 600 s: cut out the plucks": made(np.zeros(1200 * 1000), bits=8, rate_hz=1000),
    "has 1 samples that are no sound, the first is nan": made([0.0, np.nan, 0.5], FLOAT, 32),
    "has 2 samples that are no sound, the first is -inf": made([-np.inf, np.inf], FLOAT, 64),
    "the first is 1e+300": made([0.0, 1e300], FLOAT, 64),
    "contradicts itself": WHOLE.replace(struct.pack("<HH", 2, 16), struct.pack("<HH", 3, 16)),
}


@pytest.mark.parametrize("said", BAD)
def test_each_fault_has_its_line(file: Path, said: str) -> None:
    file.write_bytes(BAD[said])
    with pytest.raises(WaveError) as refused:
        read(file)
    line = str(refused.value)
    assert line.startswith(f"{file}: ")
    assert said in line
    assert "\n" not in line


def test_missing_files_and_folders_are_named(tmp_path: Path) -> None:
    with pytest.raises(WaveError, match=r"nowhere\.wav: No such file"):
        read(tmp_path / "nowhere.wav")
    with pytest.raises(WaveError, match="is a folder"):
        read(tmp_path)


@settings(max_examples=80)
@given(st.integers(0, len(WHOLE)), st.lists(st.tuples(st.integers(0, 47), st.integers(0, 255)), max_size=4))
def test_a_damaged_file_is_read_or_refused(tmp_path_factory: Any, keep: int, changes: list[tuple[int, int]]) -> None:
    damaged = bytearray(WHOLE)
    for place, value in changes:
        damaged[place] = value
    path = tmp_path_factory.mktemp("damaged") / "own.wav"
    path.write_bytes(damaged[:keep])
    try:
        assert np.isfinite(read(path).samples).all()
    except WaveError as refused:
        assert "\n" not in str(refused)
