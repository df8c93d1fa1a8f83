"""The study of a circuit on paper: levels, headroom, bandwidth, noise, folds, parts to buy, their tolerances."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from models.hearing.converter import Converter
from models.hearing.front_end import FrontEnd
from models.hearing.microphone import NOISE_HIGH_HZ, NOISE_LOW_HZ, Microphone, pressure_pa
from sim.hearing.tolerances import (
    Alias,
    Bought,
    Corner,
    Scatter,
    bought,
    circuit_of,
    corners,
    partials_of,
    scatter,
    strongest_alias,
)


@dataclass(frozen=True, slots=True)
class Level:
    """A tone at a string's pitch on its way to the converter; volts and steps are rms."""

    string: str
    target_hz: float
    stage_gain: float
    """Of one amplifier at this pitch, bandwidth counted."""
    total_gain: float
    """Of all stages and filters."""
    microphone_v: float
    converter_v: float
    steps: float
    room_db: float
    """From the peak of this tone to the nearer end of the range; negative = clipped."""
    delay_ms: float
    """Group delay of microphone and front end."""


@dataclass(frozen=True, slots=True)
class Swing:
    """How far the signal may go from its rest before the op-amp or the converter ends it."""

    rest_v: float
    up_v: float
    down_v: float
    """Positive; 0 when the rest lies at or below the converter's 0 V."""
    middle_v: float
    """The rest that would leave as much above as below."""
    lost_db: float
    """Headroom lost by resting elsewhere; infinite when all is."""


@dataclass(frozen=True, slots=True)
class Bandwidth:
    """What the op-amps take from the upper edge of the band."""

    stages: int
    gain: float
    """Of each amplifier at low frequencies."""
    pole_hz: float
    """Corner of each amplifier."""
    edge_hz: float
    """Lowest corner of the low-passes, or half the sample rate without any."""
    filtered: bool
    """Whether there is a low-pass."""
    loss_db: float
    """Of all amplifiers together at the edge, positive = weaker."""


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise at the converter without any sound, rms steps over all frequencies, since all of them fold."""

    microphone_steps: float
    front_end_steps: float
    rounding_steps: float


@dataclass(frozen=True, slots=True)
class CircuitStudy:
    """A circuit on paper, as plain numbers; tuples over strings are in the order of the strings."""

    level_db_spl: float
    rate_hz: float
    above_half_rate: tuple[str, ...]
    """Strings whose pitch lies at or above half the sample rate: they cannot be heard."""
    levels: tuple[Level, ...]
    swing: Swing
    bandwidth: Bandwidth
    noise: Noise
    aliases: tuple[Alias, ...]
    """The strongest of each string that has one."""
    parts: tuple[Bought, ...]
    corners: tuple[Corner, ...]
    scatters: tuple[Scatter, ...]


def study(
    microphone: Microphone,
    front_end: FrontEnd,
    converter: Converter,
    level_db_spl: float,
    targets_hz: Mapping[str, float],
    inharmonicity: Mapping[str, float],
) -> CircuitStudy:
    """Return what a circuit does to tones of ``level_db_spl`` at the pitches of strings, and to their partials.

    ``targets_hz`` and ``inharmonicity`` (B of ``f_n = n f0 sqrt(1 + B n^2)``) are by string. Partials fall as 1/n.
    """
    path, circuit = _Path(microphone, front_end, converter), circuit_of(microphone, front_end)
    strings = [partials_of(string, hz, inharmonicity[string], circuit) for string, hz in targets_hz.items()]
    aliases = (strongest_alias(partials, converter.rate_hz) for partials in strings)
    return CircuitStudy(
        level_db_spl=level_db_spl,
        rate_hz=converter.rate_hz,
        above_half_rate=tuple(string for string, hz in targets_hz.items() if 2.0 * hz >= converter.rate_hz),
        levels=tuple(_level(string, hz, pressure_pa(level_db_spl), path) for string, hz in targets_hz.items()),
        swing=_swing(path),
        bandwidth=_bandwidth(path),
        noise=_noise(path),
        aliases=tuple(alias for alias in aliases if alias),
        parts=bought(circuit),
        corners=corners(circuit),
        scatters=tuple(scatter(partials, converter.rate_hz) for partials in strings),
    )


class _Path(NamedTuple):
    microphone: Microphone
    front_end: FrontEnd
    converter: Converter


def _swing(path: _Path) -> Swing:
    lowest, highest = path.front_end.swing_v()
    lowest, highest = max(lowest, 0.0), min(highest, path.converter.reference_v)
    rest = path.front_end.bias_v
    up, down = max(highest - rest, 0.0), max(rest - lowest, 0.0)
    lost = _db((highest - lowest) / 2.0) - _db(min(up, down))
    return Swing(rest, up, down, (lowest + highest) / 2.0, lost)


def _level(string: str, hz: float, pascal: float, path: _Path) -> Level:
    at = np.array([hz])
    at_microphone = pascal * float(np.abs(path.microphone.response(at))[0])
    gain = float(np.abs(path.front_end.response(at))[0])
    swing = _swing(path)
    return Level(
        string=string,
        target_hz=hz,
        stage_gain=path.front_end.stage_gain() / math.hypot(1.0, hz / path.front_end.pole_hz()),
        total_gain=gain,
        microphone_v=at_microphone,
        converter_v=at_microphone * gain,
        steps=at_microphone * gain / path.converter.step_v(),
        room_db=_db(min(swing.up_v, swing.down_v)) - _db(math.sqrt(2.0) * at_microphone * gain),
        delay_ms=_delay_ms(hz, path),
    )


def _delay_ms(hz: float, path: _Path) -> float:
    """Return minus the slope of the phase over angular frequency."""
    around = hz * np.array([0.999, 1.001])
    gains = path.microphone.response(around) * path.front_end.response(around)
    turned = float(np.angle(gains[1] * np.conj(gains[0])))
    return -1e3 * turned / (2.0 * math.pi * float(around[1] - around[0]))


def _bandwidth(path: _Path) -> Bandwidth:
    front_end = path.front_end
    band = [front_end.band_high_hz] if front_end.band_order else []
    low = [front_end.low_pass_hz] if front_end.low_pass_order else []
    edge = min([*band, *low], default=path.converter.rate_hz / 2.0)
    return Bandwidth(
        stages=front_end.stages,
        gain=front_end.stage_gain(),
        pole_hz=front_end.pole_hz(),
        edge_hz=edge,
        filtered=bool(band or low),
        loss_db=front_end.stages * _db(math.hypot(1.0, edge / front_end.pole_hz())),
    )


def _noise(path: _Path) -> Noise:
    hz = np.geomspace(NOISE_LOW_HZ, NOISE_HIGH_HZ, 2000)
    sound = path.microphone.noise_pa2_hz() * np.abs(path.microphone.response(hz) * path.front_end.response(hz)) ** 2
    circuit = path.front_end.noise_v2_hz(hz, path.microphone.output_ohm)
    microphone, amplifier = (math.sqrt(np.trapezoid(power, hz)) / path.converter.step_v() for power in (sound, circuit))
    return Noise(microphone, amplifier, math.sqrt(1.0 / 12.0))


def _db(ratio: float) -> float:
    return 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf
