"""Recordings as WAV files: read with one line for each fault, written as 16-bit mono."""

import os
import struct
from pathlib import Path
from typing import BinaryIO, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LONGEST_S: Final = 600.0
SLOWEST_HZ, FASTEST_HZ = 1000, 768_000  # rates of recordings
LOUDEST: Final = 1e9  # of samples in floating point, whose full scale is 1
WHOLE, FLOATING, EXTENSIBLE = 1, 3, 0xFFFE  # format tags of RIFF/WAVE
FMT_BYTES: Final = 16  # least bytes of the format chunk
SUBFORMAT: Final = 24  # where an extensible format has its true tag
FORMS: Final = {
    (WHOLE, 8): "8-bit",
    (WHOLE, 16): "16-bit",
    (WHOLE, 24): "24-bit",
    (WHOLE, 32): "32-bit",
    (FLOATING, 32): "32-bit float",
    (FLOATING, 64): "64-bit float",
}
COMPRESSED: Final = {2: "ADPCM", 6: "A-law", 7: "mu-law", 17: "IMA ADPCM", 49: "GSM", 80: "MPEG", 85: "MP3"}
"""Some format tags of RFC 2361."""
ALLOWED: Final = "allowed: WAV with samples of 8, 16, 24 or 32 bits, or 32 or 64 bits float, mono or stereo"


class WaveError(ValueError):
    """A file that is no usable recording: one line that names it, says what was found and what is allowed."""


class Wave(NamedTuple):
    """A recording."""

    samples: Floats
    """Mean of the channels, full scale = 1, shape (samples,)."""
    rate_hz: int
    channels: int
    form: str
    """How it was stored, such as ``"16-bit"``."""

    def seconds(self) -> float:
        """Return how long it lasts."""
        return len(self.samples) / self.rate_hz


class _Format(NamedTuple):
    """The format chunk of RIFF/WAVE."""

    tag: int
    channels: int
    rate_hz: int
    bytes_per_second: int
    frame_bytes: int
    bits: int


def read(path: Path) -> Wave:
    """Return the recording in a file. Raises ``WaveError`` for whatever is wrong with it."""
    try:
        if path.is_dir():
            raise WaveError(f"is a folder; {ALLOWED}")
        with path.open("rb") as file:
            return _wave(file, os.fstat(file.fileno()).st_size)
    except WaveError as fault:
        raise WaveError(f"{path}: {fault}") from None
    except OSError as fault:
        raise WaveError(f"{path}: {fault.strerror}; {ALLOWED}") from None


def write(path: Path, samples: Floats, rate_hz: int) -> None:
    """Write samples (full scale = 1, held within it) as 16-bit mono."""
    import wave

    steps = np.rint(np.clip(samples, -1.0, 1.0) * 32767.0).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(steps.tobytes())


def _wave(file: BinaryIO, size: int) -> Wave:
    if size == 0:
        raise WaveError(f"is empty; {ALLOWED}")
    head = file.read(12)
    if head[:4] != b"RIFF" or head[8:] != b"WAVE":
        raise WaveError(f"is no WAV file: it does not begin with RIFF and WAVE; {ALLOWED}")
    found = _format(_chunk(file, b"fmt "))
    length = _length(file, b"data")
    there = size - file.tell()
    if there < length:
        raise WaveError(f"is truncated: its header promises {length} bytes of sound, {there} are there; save it again")
    frames = length // found.frame_bytes
    _refuse_length(frames, found.rate_hz)
    raw = np.frombuffer(file.read(frames * found.frame_bytes), np.uint8)
    samples = _decoded(raw, found.tag, found.bits).reshape(frames, found.channels).mean(axis=1)
    return Wave(samples, found.rate_hz, found.channels, FORMS[found.tag, found.bits])


def _length(file: BinaryIO, name: bytes) -> int:
    """Move to the content of the next chunk of a name and return its length."""
    while len(head := file.read(8)) == 8:
        found, length = struct.unpack("<4sI", head)
        if found == name:
            return int(length)
        file.seek(length + length % 2, os.SEEK_CUR)
    raise WaveError(f"is truncated: it ends before its '{name.decode().strip()}' chunk; save it again")


def _chunk(file: BinaryIO, name: bytes) -> bytes:
    """Return the first bytes of the next chunk of a name and move behind it."""
    length = _length(file, name)
    start = file.tell()
    content = file.read(min(length, SUBFORMAT + 2))
    file.seek(start + length + length % 2)
    return content


def _format(content: bytes) -> _Format:
    if len(content) < FMT_BYTES:
        raise WaveError("is truncated: its 'fmt' chunk is too short; save it again")
    found = _Format(*struct.unpack("<HHIIHH", content[:FMT_BYTES]))
    if found.tag == EXTENSIBLE and len(content) == SUBFORMAT + 2:
        found = found._replace(tag=struct.unpack("<H", content[SUBFORMAT:])[0])
    _refuse_format(found)
    return found


def _refuse_format(found: _Format) -> None:
    if (found.tag, found.bits) not in FORMS:
        coded = COMPRESSED.get(found.tag, f"coded as number {found.tag}")
        what = f"has samples of {found.bits} bits" if found.tag in (WHOLE, FLOATING) else f"is compressed ({coded})"
        raise WaveError(f"{what}; {ALLOWED}")
    if found.channels not in (1, 2):
        raise WaveError(f"has {found.channels} channels; {ALLOWED}")
    if found.frame_bytes != found.channels * found.bits // 8:
        raise WaveError(f"has a header that contradicts itself: {found.frame_bytes} bytes a frame; {ALLOWED}")
    if not SLOWEST_HZ <= found.rate_hz <= FASTEST_HZ:
        raise WaveError(f"has {found.rate_hz} samples/s; allowed: {SLOWEST_HZ} to {FASTEST_HZ}")


def _refuse_length(frames: int, rate_hz: int) -> None:
    if frames == 0:
        raise WaveError("has a header and no sound in it; record again")
    if frames > LONGEST_S * rate_hz:
        raise WaveError(f"lasts {frames / rate_hz:.0f} s; at most {LONGEST_S:.0f} s: cut out the plucks")


def _decoded(raw: NDArray[np.uint8], tag: int, bits: int) -> Floats:
    """Return samples with full scale = 1, channels by turns. Raises ``WaveError`` for what is no number."""
    if tag == FLOATING:
        return _finite(raw.view(f"<f{bits // 8}"))
    if bits == 8:
        return (raw.astype(np.float64) - 128.0) / 128.0
    if bits == 24:
        wide = np.zeros((len(raw) // 3, 4), np.uint8)
        wide[:, 1:] = raw.reshape(-1, 3)
        return wide.ravel().view("<i4") / 2.0**31
    return raw.view(f"<i{bits // 8}") / 2.0 ** (bits - 1)


def _finite(samples: NDArray[np.floating]) -> Floats:
    wrong = ~(np.abs(samples) <= LOUDEST)
    if wrong.any():
        first = int(wrong.argmax())
        raise WaveError(
            f"has {int(wrong.sum())} samples that are no sound, the first is {samples[first]:g}; "
            f"allowed: finite numbers, full scale = 1"
        )
    return samples.astype(np.float64)
