"""The sound at the microphone over a whole run, before circuit and converter, so that a person can listen to it."""

import math
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.hearing.base import EarChance
from models.hearing.circuit import HIGHEST_HZ
from models.hearing.microphone import REFERENCE_PA
from models.hearing.room import Room
from models.hearing.scene import Instants, Scene
from models.hearing.signal import SignalEar
from models.units import NANOSECONDS
from sim.hearing.wave import LONGEST_S, write
from sim.loop import Record

Floats = NDArray[np.float64]

RATE_HZ: Final = 24_000
BLOCK: Final = 6_000  # instants computed together: a quarter of a second
NOISE: Final = 8_192  # instants from one piece of noise to the next
ROOM_NUMBER, BURST_NUMBER = (1 << 24) - 1, (1 << 24) - 2  # of readings that no run reaches: their noise is free
PEAK: Final = 0.9  # of full scale


def write_soundtrack(record: Record, chance: EarChance, path: Path) -> str:
    """Write what a run's microphone hears as a WAV file and return one sentence of what was written.

    ``chance`` is that of the run. Raises ``ValueError`` for a run without a signal ear.
    """
    sound = soundtrack(record, chance)
    if not sound.size:
        return f"no {path.name}: the run ended at once"
    full_pa = float(np.abs(sound).max()) / PEAK or 1.0
    write(path, sound / full_pa, RATE_HZ)
    level = 20.0 * math.log10(full_pa / REFERENCE_PA)
    cut = f" (the first {LONGEST_S:g} s)" if record.end_ns > LONGEST_S * NANOSECONDS else ""
    return (
        f"{path.name}: {len(sound) / RATE_HZ:.1f} s of sound at the microphone{cut}, before circuit and converter; "
        f"full scale is {full_pa:.3g} Pa ({level:.0f} dB SPL)"
    )


def soundtrack(record: Record, chance: EarChance) -> Floats:
    """Return the sound pressure in Pa over a run, at most ten minutes of it, at ``RATE_HZ``, shape (instants,).

    The tones are those that the ear heard; noise of the room, of attacks and of the motor is drawn afresh, because the
    ear's has another rate. Raises ``ValueError`` for a run without a signal ear.
    """
    points = int(min(record.end_ns / NANOSECONDS, LONGEST_S) * RATE_HZ)
    return tones(record, chance, points) + _bursts(record, chance, points) + _hiss(_scene(record).room, chance, points)


def tones(record: Record, chance: EarChance, points: int, block: int = BLOCK) -> Floats:
    """Return the tones alone, computed in blocks; their phases go on from block to block."""
    scene, string, found = _scene(record), record.rig.string, np.empty(points)
    for first in range(0, points, block):
        instants = _instants(first, min(block, points - first))
        found[first : first + block] = scene.tones(
            record.instrument, string, instants, _as_it_is, chance, np.zeros(instants.points)
        )
    return found


def _scene(record: Record) -> Scene:
    if not isinstance(record.rig.ear, SignalEar):
        raise ValueError("only a signal ear has a sound: load the rig with the signal ear")
    return record.rig.ear.scene


def _instants(first: int, points: int) -> Instants:
    return Instants(round(first * NANOSECONDS / RATE_HZ), 1.0 / RATE_HZ, points)


def _as_it_is(hz: Floats) -> NDArray[np.complex128]:
    """Return the gain of no circuit; nothing above half the rate, where it would fold."""
    return np.where(np.abs(hz) < RATE_HZ / 2.0, 1.0 + 0.0j, 0.0j)


def _bursts(record: Record, chance: EarChance, points: int) -> Floats:
    """Return the noise of attacks and of the turning motor: white up to 24 kHz, as far as the rate carries it."""
    scene, found = _scene(record), np.empty(points)
    carried = math.sqrt(RATE_HZ / 2.0 / HIGHEST_HZ)
    for number, first in enumerate(range(0, points, NOISE)):
        instants = _instants(first, min(NOISE, points - first))
        level_pa = scene.bursts(record.instrument, record.rig.string, instants)
        normals = chance.noise(number, BURST_NUMBER).standard_normal(instants.points)
        found[first : first + NOISE] = carried * level_pa * normals
    return found


def _hiss(room: Room, chance: EarChance, points: int) -> Floats:
    """Return the room's noise: pieces that fade into each other at a power that stays."""
    lines = np.sqrt(room.noise_pa2_hz(np.arange(NOISE + 1) * RATE_HZ / (2.0 * NOISE)) * RATE_HZ / (2.0 * NOISE))
    fade = np.sin(math.pi * (np.arange(2 * NOISE) + 0.5) / (2.0 * NOISE))
    pieces = -(-points // NOISE) + 1
    found = np.zeros((pieces + 1) * NOISE)
    for number in range(pieces):
        normals = chance.noise(number, ROOM_NUMBER).standard_normal((2, NOISE + 1))
        piece = np.fft.irfft(NOISE * lines * (normals[0] + 1j * normals[1]))
        found[number * NOISE : (number + 2) * NOISE] += fade * piece
    return found[NOISE : NOISE + points]
