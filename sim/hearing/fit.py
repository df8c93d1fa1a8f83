"""From readings of any ear to a statistical one: a table of its errors for each string, and the file that holds them.

Errors are taken apart into nested variance components by the method of moments: half the mean squared difference of
two readings of one pluck, of two plucks, of two specimens. For balanced data these are the estimates of an analysis of
variance; gross and missed readings only leave pairs out.
"""

import math
from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.hearing.statistical import WILDEST_CENTS, StatisticalEar
from models.units import cents
from scenarios.schema import Part, Range, Scenario, Value
from sim.build import build
from sim.hearing.listened import GROSS_CENTS, Floats, Listened, Sizes, listened
from sim.seeds import Streams
from sim.series.fingerprint import fingerprint
from sim.series.store import versions
from sim.specimen import as_built

SCAN_DB: Final = np.arange(0.0, -61.0, -6.0)  # levels at which floor and signal-to-noise ratio are looked for
SCAN: Final = Sizes(30, 1, 1)
LOWEST_SNR_DB: Final = 18.0  # of a fresh pluck; some windows later a note is near the level that is still believed
ABOVE_FLOOR_DB: Final = 12.0  # of a fresh pluck, so that it is still heard some windows later
LOWEST_DB: Final = -40.0  # a hundredth of the usual amplitude; softer plucks teach nothing
HALF_HEARD: Final = 0.5  # share of readings at the floor, re the share at the usual level
PERIODIC: Final = 0.5  # readings of less tell more about the detector than about the noise
PADDINGS: Final = (1, 2, 4, 8)  # of a spectrum whose lines are read without interpolation
ON_LINE: Final = 1e-9  # how far from a line a reading may lie, as a share of the pitch
SIMILAR: Final = 1.5  # noise powers that differ less cannot tell noise from wandering
DIGITS: Final = 4  # of what was measured


def levels_db(fresh_snr_db: float, floor_db: float, many: int) -> Floats:
    """Return levels of plucking, usual first, down to where a fresh pluck still stands out from noise and floor."""
    lowest_snr_db = max(LOWEST_SNR_DB, floor_db + ABOVE_FLOOR_DB)
    return np.linspace(0.0, max(LOWEST_DB, min(0.0, lowest_snr_db - fresh_snr_db)), many)


def fitted(scenario: Scenario, string: str, streams: Streams, sizes: Sizes, levels: int = 3) -> Part:
    """Return the statistical ear of a string that errs as the rig's ear does, with the clock's range as a range.

    It hears the pitch that the task means; what the detector adds to it is the bias.
    """
    scan = listened(scenario, string, streams, SCAN, SCAN_DB)
    purity = purity_of(scan)
    floor_db = floor_snr_db(scan, purity.fresh_snr_db)
    main = listened(scenario, string, streams, sizes, levels_db(purity.fresh_snr_db, floor_db, levels), tuning=1)
    step_hz = resolution_hz(main.pitch_hz, build(scenario, string).ear.window_s)
    half_step_cents = 0.5 * cents(1.0 + step_hz / _target_hz(scenario, string), 1.0)
    limit_cents = GROSS_CENTS + half_step_cents
    errors = {
        **(_spreads(main, limit_cents, _glide_s(scenario, string)) if not step_hz else _hidden(scenario, string)),
        "fresh_snr_db": purity.fresh_snr_db,
        "floor_snr_db": floor_db,
        **shares(main.error_cents, limit_cents),
        "missed_share": missed_share(main, floor_db - purity.fresh_snr_db),
        "periodicity_most": purity.most,
    }
    values: dict[str, Value] = {
        "hears": scenario.task.pitch,
        **_timing(scenario, string),
        **{name: float(f"{value:.{DIGITS}g}") for name, value in errors.items()},
        "resolution_hz": step_hz,
        "clock_ppm": _clock_ppm(scenario, string),
    }
    return Part("ear", StatisticalEar, values, dict.fromkeys(values, "measured on the signal ear"))


class Purity(NamedTuple):
    """What periodicity tells of the noise: ``periodicity = most snr / (1 + snr)``."""

    most: float
    fresh_snr_db: float


def purity_of(scan: Listened) -> Purity:
    """Return the law of periodicity from readings at many levels: ``1 / p = (1 + 10^(-(fresh + level)/10)) / most``.

    Least squares of the relative error over readings that are more periodic than not.
    """
    heard = (scan.periodicity > PERIODIC) & np.isfinite(scan.error_cents)
    if np.unique(scan.level_db[heard]).size < 2:
        return Purity(1.0, 0.0)
    inverse, noise = 1.0 / scan.periodicity[heard], 10.0 ** (-scan.level_db[heard] / 10.0)
    clean, slope = _straight(noise, inverse, 1.0 / inverse)
    fresh_db = 10.0 * np.log10(clean / max(slope, 1e-12 * clean))
    return Purity(float(min(1.0, 1.0 / clean)), float(np.clip(fresh_db, 0.0, 120.0)))


def floor_snr_db(scan: Listened, fresh_snr_db: float) -> float:
    """Return the signal-to-noise ratio at which half as many readings are heard as at the usual level.

    The lowest ratio that was tried where more are heard at every level.
    """
    heard = np.isfinite(scan.error_cents).mean(axis=(1, 2, 3))
    snr_db = fresh_snr_db + scan.level_db.mean(axis=(1, 2, 3))
    wanted = HALF_HEARD * heard[0]
    below = np.flatnonzero(heard < wanted)
    if not below.size:
        return float(np.clip(snr_db[-1], -20.0, 100.0))
    first = int(below[0])
    share = (wanted - heard[first]) / (heard[first - 1] - heard[first])
    return float(np.clip(snr_db[first] + share * (snr_db[first - 1] - snr_db[first]), -20.0, 100.0))


def resolution_hz(pitch_hz: Floats, window_s: float) -> float:
    """Return the distance of the lines on which all readings lie, 0 when they lie between."""
    heard = pitch_hz[np.isfinite(pitch_hz)]
    for padding in PADDINGS:
        step = 1.0 / (window_s * padding)
        if heard.size and np.all(np.abs(heard / step - np.rint(heard / step)) * step < ON_LINE * heard):
            return step
    return 0.0


def shares(error_cents: Floats, limit_cents: float) -> dict[str, float]:
    """Return the shares of octaves and wild readings among those heard, and how far the wild ones lie."""
    heard = error_cents[np.isfinite(error_cents)]
    low, high = (np.abs(heard + octave) <= limit_cents for octave in (1200.0, -1200.0))
    wild = (np.abs(heard) > limit_cents) & ~low & ~high
    farthest = np.abs(heard[wild]).max(initial=0.0)
    return {
        "octave_low_share": _mean(low),
        "octave_high_share": _mean(high),
        "wild_share": _mean(wild),
        "wild_cents": float(min(farthest, WILDEST_CENTS)) or 600.0,
    }


def missed_share(main: Listened, floor_level_db: float) -> float:
    """Return the share of missed readings of notes above a level; 1 if no note is."""
    loud = main.level_db >= floor_level_db
    return _mean(np.isnan(main.error_cents[loud])) if loud.any() else 1.0


class Moments(NamedTuple):
    """Half the mean squared difference of two readings, as a variance in squared cents; nan without such a pair."""

    reading: float
    """Of one pluck."""
    pluck: float
    """Of different plucks of one specimen."""
    specimen: float
    """Of different specimens."""


def moments(error: Floats) -> Moments:
    """Return the nested moments of errors of shape (specimens, plucks, windows); nan where there is none.

    Readings, plucks and specimens of variances r, p, s give ``r``, ``r + p`` and ``r + p + s`` on average.
    Source: Searle, Casella & McCulloch 1992, Variance Components, section 3.6, as differences.
    """
    middle = error - (np.nanmean(error) if np.isfinite(error).any() else 0.0)  # keeps the squares small
    in_pluck = _pairs(middle, (2,))
    in_specimen = _pairs(middle, (1, 2))
    everywhere = _pairs(middle, (0, 1, 2))
    return Moments(_half(in_pluck), _half(in_specimen - in_pluck), _half(everywhere - in_specimen))


def _pairs(error: Floats, within: tuple[int, ...]) -> Floats:
    """Return the sum of squared differences of all pairs within groups, and how many pairs there are."""
    count = np.isfinite(error).sum(axis=within)
    total, squares = np.nansum(error, axis=within), np.nansum(error**2, axis=within)
    return np.array([(count * squares - total**2).sum(), (count * (count - 1) / 2.0).sum()])


def _half(pairs: Floats) -> float:
    return float(pairs[0] / (2.0 * pairs[1])) if pairs[1] else np.nan


def _spreads(main: Listened, limit_cents: float, glide_s: float) -> dict[str, float]:
    """Return bias, glide and the spreads of run, pluck, wandering and noise."""
    sound, gliding = main.sound(limit_cents), np.exp(-main.since_s / glide_s)
    bias, glide = _drift(sound, gliding)
    rest = sound - bias - glide * gliding
    each = [moments(level) for level in rest]
    wander, reading = _noise_apart(np.array([found.reading for found in each]), _noise(main.level_db))
    run, glide_run = _runs(rest, gliding)
    return {
        "bias_cents": bias,
        "glide_cents": glide,
        "glide_run_cents": glide_run,
        "glide_s": glide_s,
        "run_cents": run,
        "pluck_cents": _root([found.pluck - found.reading for found in each], [found.pluck for found in each]),
        "wander_cents": wander,
        "reading_cents": reading,
    }


def _noise(level_db: Floats) -> Floats:
    """Return the mean power of the noise re a note of the usual fresh level, level of plucking by level."""
    found: Floats = np.mean(10.0 ** (-level_db / 10.0), axis=(1, 2, 3))
    return found


def _runs(rest: Floats, gliding: Floats) -> tuple[float, float]:
    """Return the spread between specimens, for good and of the glide, from that of each window."""
    each = [[moments(level[:, :, [window]]) for level in rest] for window in range(len(gliding))]
    spread = [_root([one.specimen - one.pluck for one in row], [one.specimen for one in row]) for row in each]
    if len(gliding) == 1:
        return spread[0], 0.0
    return _not_below_zero(gliding, np.array(spread), np.ones(len(gliding)))


def _drift(sound: Floats, gliding: Floats) -> tuple[float, float]:
    """Return bias and glide from the mean error of each window, shape of ``gliding``."""
    heard = np.isfinite(sound).any(axis=(0, 1, 2))
    if not heard.any():
        return 0.0, 0.0
    means = np.nanmean(sound[..., heard], axis=(0, 1, 2))
    bias, glide = _straight(gliding[heard], means, np.ones(len(means))) if len(means) > 1 else (means[0], 0.0)
    return float(np.clip(bias, -100.0, 100.0)), float(np.clip(glide, -200.0, 200.0))


def _noise_apart(variance: Floats, noise: Floats) -> tuple[float, float]:
    """Return the spreads of wandering and of noise: ``variance = wander^2 + reading^2 noise``, level by level.

    Levels that are too much alike count as noise.
    """
    known = np.isfinite(variance) & (variance > 0.0)
    if not known.any():
        return 0.0, 0.0
    variance, noise = variance[known], noise[known]
    if noise.max() < SIMILAR * noise.min():
        return 0.0, _alone(noise, variance, 1.0 / variance) ** 0.5
    wander, reading = _not_below_zero(noise, variance, 1.0 / variance)
    return wander**0.5, reading**0.5


def _not_below_zero(x: Floats, y: Floats, weights: Floats) -> tuple[float, float]:
    """Return a and b, neither below 0, of the least squares of ``weights (y - a - b x)``; y is not below 0."""
    a, b = _straight(x, y, weights)
    if a < 0.0:
        return 0.0, _alone(x, y, weights)
    return (a, b) if b >= 0.0 else (_alone(np.ones(len(y)), y, weights), 0.0)


def _alone(x: Floats, y: Floats, weights: Floats) -> float:
    """Return b of the least squares of ``weights (y - b x)``."""
    return float(np.sum(weights**2 * x * y) / np.sum((weights * x) ** 2))


def _straight(x: Floats, y: Floats, weights: Floats) -> tuple[float, float]:
    """Return a and b of the least squares of ``weights (y - a - b x)``."""
    found = np.linalg.lstsq(np.stack([weights, weights * x], axis=1), weights * y, rcond=None)[0]
    return float(found[0]), float(found[1])


def _root(variance: Sequence[float], scatter: Sequence[float]) -> float:
    """Return the root of a mean of variances, each as sure as its ``scatter`` is small; 0 if negative or unknown."""
    found, weights = np.array(variance), np.array(scatter)
    known = np.isfinite(found) & (weights > 0.0)
    if not known.any():
        return 0.0
    return math.sqrt(max(0.0, float(np.average(found[known], weights=weights[known] ** -2.0))))


def _hidden(scenario: Scenario, string: str) -> dict[str, float]:
    """Return no spread at all: of readings that lie on lines, the rounding is the error, and hides what is smaller."""
    names = (
        "bias_cents",
        "glide_cents",
        "glide_run_cents",
        "run_cents",
        "pluck_cents",
        "wander_cents",
        "reading_cents",
    )
    return {**dict.fromkeys(names, 0.0), "glide_s": _glide_s(scenario, string)}


def _timing(scenario: Scenario, string: str) -> dict[str, float]:
    ear = build(scenario, string).ear
    return {name: getattr(ear, name) for name in ("window_s", "hop_s", "skip_s", "computing_s", "link_s")}


def _glide_s(scenario: Scenario, string: str) -> float:
    """Return the sound's own time constant: it is too much like a bias to be measured."""
    part = scenario.sounds[string] if scenario.sounds else scenario.ears[string]
    return float(part.nominal().glide_s)


def _clock_ppm(scenario: Scenario, string: str) -> Value:
    part = scenario.hearing["converter"] if scenario.ear == "signal" else scenario.ears[string]
    return part.values["clock_ppm"]


def _target_hz(scenario: Scenario, string: str) -> float:
    return as_built(scenario, string, lambda key: 0.5).target_hz


def _mean(flags: NDArray[np.bool_]) -> float:
    return float(np.mean(flags)) if flags.size else 0.0


def to_toml(scenario: Scenario, ears: Mapping[str, Part], seed: int, sizes: Sizes, levels: int = 3) -> str:
    """Return the file that ``[ear] file`` names: provenance, then a table of every value for each string."""
    readings = levels * sizes.readings()
    head = [
        "# Statistical ear, measured on the signal ear by pegloop hear --fit. Use it in a rig file:",
        '#   [ear]\n#   file = "name of this file"',
        f"# pegloop {versions()['pegloop']}, seed {seed}, {readings} readings a string: {sizes.specimens} specimens,",
        f"# {sizes.plucks} plucks at each of {levels} levels, {sizes.windows} windows in a row after each",
        f"# rig: {scenario.name!a}",
        f"# sha256 of its text: {sha256(scenario.text.encode()).hexdigest()}",
        f"# sha256 of its data: {fingerprint(scenario)}",
    ]
    return "\n".join([*head, *(_table(string, ear) for string, ear in ears.items()), ""])


def _table(string: str, ear: Part) -> str:
    return "\n".join([f'\n[ear_by_string."{string}"]', *(f"{key} = {_toml(raw)}" for key, raw in ear.values.items())])


def _toml(value: Value) -> str:
    if isinstance(value, Range):
        return f"{{ low = {value.low!r}, high = {value.high!r} }}"
    return f'"{value}"' if isinstance(value, str) else repr(value)
