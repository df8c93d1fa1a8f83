"""Detectors over a recording: a reading for each window, the accepted pitch of each detector, and what was found."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import Detector
from models.hearing.acceptance import Accepting
from models.hearing.base import Heard
from models.hearing.signal import Recorded
from models.messages import Estimate
from models.units import cents, nearest_note, shifted
from sim.hearing.listener import Listener, Target, aimed, without_target
from sim.hearing.played import played, recorded
from sim.hearing.wave import Wave, WaveError

Floats = NDArray[np.float64]

FRAME_S: Final = 0.03  # over which a level is taken: longer than a period of the lowest strings
STEP_S: Final = 0.005  # from one look at the level to the next
RISE_DB: Final = 6.0  # of the level from frame to frame: a pluck; less are beats (estimate)
FAINT_DB: Final = -30.0  # re the loudest frame: what rises below is noise (estimate)
APART_S: Final = 0.1  # rises nearer than this are one pluck
REFERENCE_HZ: Final = 440.0  # from which cents are counted inside acceptance when there is no target
FINEST_HZ: Final = 1.0  # lines of the spectrum that is shown


class Reading(NamedTuple):
    """What a detector made of one window."""

    detector: str
    t_s: float
    """Centre of the window since the start of the recording."""
    pitch_hz: float | None
    """As the detector gave it, None when not heard."""
    cents: float | None
    """Re the target, or re the nearest note without one."""
    periodicity: float
    settled_hz: float | None
    """Pitch after acceptance; None when it was not accepted."""

    @property
    def accepted(self) -> bool:
        """Whether it was accepted."""
        return self.settled_hz is not None


class Accepted(NamedTuple):
    """What a detector says of the whole recording."""

    pitch_hz: float
    """Median of the accepted readings."""
    cents: float
    """Re ``note``."""
    note: str
    """The target, or the nearest note without one."""
    readings: int
    spread_cents: float
    """Standard deviation of the accepted readings; 0 for one."""


class Spectrum(NamedTuple):
    """Hann spectrum of the loudest window, as the detectors were given it."""

    t_s: float
    """Centre of that window."""
    hz: Floats
    level_db: Floats
    """Re the strongest line; shape of ``hz``."""


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording as detectors heard it."""

    file: str
    wave: Wave
    listener: Listener
    target: Target | None
    plucks_s: tuple[float, ...]
    """When the level jumped; sound before the first one counts as already ringing."""
    readings: tuple[Reading, ...]
    """Detector by detector, in order of time."""
    accepted: Mapping[str, Accepted]
    """By detector; one without an accepted reading is missing."""
    spectrum: Spectrum
    remarks: tuple[str, ...]
    """What the reader should know, a sentence each."""


class _Piece(NamedTuple):
    """One window of the recording."""

    first: int
    recorded: Recorded
    pluck: int
    """How many plucks came before it."""
    settled: bool
    """Whether it opens late enough after a pluck and ends before the next."""


def hear(
    file: str, wave: Wave, listener: Listener, detectors: Mapping[str, Detector], target: Target | None
) -> Recording:
    """Return what detectors make of a recording.

    Windows follow each other by the listener's hop. A pluck is a rise of the level by 6 dB within 30 ms, to within 30
    dB of the loudest; windows that open sooner than the listener's skip after one, or meet the next, are read and not
    accepted. Raises ``WaveError`` when no window fits or the rate carries no such target.
    """
    _refuse(file, wave, listener, target)
    sound = played(wave, listener)
    plucks = onsets(wave.samples, wave.rate_hz)
    pieces = list(_pieces(sound, listener, plucks))
    aims = {name: aimed(detector, listener, target) for name, detector in detectors.items()}
    readings = [
        reading for name, detector in aims.items() for reading in _readings(name, detector, pieces, listener, target)
    ]
    return Recording(
        file=file,
        wave=wave,
        listener=listener,
        target=target,
        plucks_s=tuple(plucks),
        readings=tuple(readings),
        accepted=dict(_accepted(readings, listener, target)),
        spectrum=_spectrum(pieces, listener),
        remarks=tuple(_remarks(aims, listener)),
    )


def onsets(samples: Floats, rate_hz: int) -> list[float]:
    """Return the seconds at which the level jumps: the steepest place of each rise."""
    step, frame = max(1, round(STEP_S * rate_hz)), max(1, round(FRAME_S * rate_hz))
    peak = float(np.abs(samples).max(initial=0.0)) or 1.0
    sums = np.concatenate([[0.0], np.cumsum((samples / peak - np.mean(samples / peak)) ** 2)])
    at = np.arange(frame, len(samples) - frame, step)
    if not at.size:
        return []
    before, after = ((sums[to] - sums[to - frame]) / frame for to in (at, at + frame))
    rise = 10.0 * np.log10((after + _tiny(after)) / (before + _tiny(after)))
    jumps = np.flatnonzero((rise >= RISE_DB) & (after >= 10.0 ** (FAINT_DB / 10.0) * after.max()))
    groups = np.split(jumps, np.flatnonzero(np.diff(jumps) * step > APART_S * rate_hz) + 1)
    return [float(at[group[rise[group].argmax()]] / rate_hz) for group in groups if group.size]


def plain(found: Recording) -> dict[str, Any]:
    """Return a recording as JSON has it."""
    return {
        "file": found.file,
        "rate_hz": found.wave.rate_hz,
        "target": found.target.name if found.target else None,
        "readings": [_plain_reading(reading) for reading in found.readings],
        "accepted": {
            name: {"pitch_hz": each.pitch_hz, "cents": each.cents, "readings": each.readings, "note": each.note}
            for name, each in found.accepted.items()
        },
        "target_hz": found.target.hz if found.target else None,
        "rig": found.listener.rig,
        "detector_rate_hz": found.listener.rate_hz,
        "plucks_s": list(found.plucks_s),
    }


def _plain_reading(reading: Reading) -> dict[str, Any]:
    names = ("t_s", "pitch_hz", "cents", "periodicity", "accepted", "detector")
    return {name: getattr(reading, name) for name in names}


def _refuse(file: str, wave: Wave, listener: Listener, target: Target | None) -> None:
    if target:
        _refuse_rate(file, min(listener.rate_hz, float(wave.rate_hz)), target)
    if wave.seconds() < listener.window_s():
        raise WaveError(
            f"{file}: lasts {wave.seconds():.3g} s; one window lasts {listener.window_s():.3g} s: record for longer"
        )


def _refuse_rate(file: str, rate_hz: float, target: Target) -> None:
    if rate_hz <= 2.0 * target.hz:
        raise WaveError(
            f"{file}: {rate_hz:g} samples/s carry at most {rate_hz / 2.0:g} Hz; {target.name} is {target.hz:.1f} Hz"
        )


def _tiny(power: Floats) -> float:
    """Return what keeps silence from being infinitely far below a pluck."""
    return 1e-9 * float(power.max()) + 1e-300


def _pieces(sound: Floats, listener: Listener, plucks: Sequence[float]) -> Iterator[_Piece]:
    for first in range(0, len(sound) - listener.window_samples + 1, listener.hop_samples):
        open_s, close_s = first / listener.rate_hz, (first + listener.window_samples) / listener.rate_hz
        unsettled = any(at_s < close_s and open_s < at_s + listener.skip_s for at_s in plucks)
        number = sum(at_s <= open_s for at_s in plucks)
        window = sound[first : first + listener.window_samples]
        yield _Piece(first, recorded(window, listener), number, not unsettled)


def _readings(
    name: str, detector: Detector, pieces: Sequence[_Piece], listener: Listener, target: Target | None
) -> Iterator[Reading]:
    reference_hz = target.hz if target else REFERENCE_HZ
    accepting = Accepting(listener.acceptance if target else without_target(listener.acceptance), reference_hz)
    for piece in pieces:
        estimate = _estimate(name, detector, piece, listener.rate_hz)
        heard = Heard(estimate, False, piece.recorded.peak_share, piece.recorded.clipped_share)
        pitch_hz = estimate.pitch_hz
        error = accepting.take(heard, piece.pluck) if piece.settled else None
        yield Reading(
            detector=name,
            t_s=(piece.first + listener.window_samples / 2.0) / listener.rate_hz,
            pitch_hz=pitch_hz,
            cents=None if pitch_hz is None else _named(pitch_hz, listener, target)[1],
            periodicity=estimate.periodicity,
            settled_hz=None if error is None else shifted(reference_hz, error),
        )


def _estimate(name: str, detector: Detector, piece: _Piece, rate_hz: float) -> Estimate:
    try:
        return Estimate(*detector.estimate(piece.recorded.samples, rate_hz))
    except Exception as error:  # a user's detector may raise anything
        raise WaveError(f"detector {name} raised {type(error).__name__}: {error}") from error


def _named(pitch_hz: float, listener: Listener, target: Target | None) -> tuple[str, float]:
    """Return the note that a pitch is measured against, and the cents between."""
    if target is None:
        return nearest_note(pitch_hz, listener.a4_hz)
    return target.name, cents(pitch_hz, target.hz)


def _accepted(readings: Sequence[Reading], listener: Listener, target: Target | None) -> Iterator[tuple[str, Accepted]]:
    for name in dict.fromkeys(reading.detector for reading in readings):
        settled = [each.settled_hz for each in readings if each.detector == name and each.settled_hz is not None]
        if settled:
            pitch_hz = median(settled)
            note, error = _named(pitch_hz, listener, target)
            spread = float(np.std([cents(each, pitch_hz) for each in settled]))
            yield name, Accepted(pitch_hz, error, note, len(settled), spread)


def _spectrum(pieces: Sequence[_Piece], listener: Listener) -> Spectrum:
    loudest = max(pieces, key=lambda piece: float(np.square(piece.recorded.samples).mean()))
    samples = loudest.recorded.samples
    points = max(len(samples), round(listener.rate_hz / FINEST_HZ))
    heights = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), points))
    peak = float(heights.max()) or 1.0
    return Spectrum(
        t_s=(loudest.first + listener.window_samples / 2.0) / listener.rate_hz,
        hz=np.fft.rfftfreq(points, 1.0 / listener.rate_hz).astype(np.float64),
        level_db=20.0 * np.log10(np.maximum(heights / peak, 1e-9)),
    )


def _remarks(detectors: Mapping[str, Detector], listener: Listener) -> Iterator[str]:
    for name, detector in detectors.items():
        least = detector.least_samples(listener.rate_hz) if hasattr(detector, "least_samples") else 0
        if least > listener.window_samples:
            yield f"{name} hears nothing: it needs {least} samples, a window has {listener.window_samples}."
