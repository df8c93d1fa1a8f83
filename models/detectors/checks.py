"""Checks that every pitch detector must pass; run them on your own: ``check_detector(MyDetector(lowest_hz=60.0))``."""

import dataclasses
import math
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import product
from numbers import Real
from typing import Any, Final

import numpy as np

from models.detectors.base import Detector, Samples, told
from models.messages import Estimate
from models.units import cents

RATES_HZ: Final = (4000.0, 8000.0)
WINDOWS: Final = (1024, 2048)
SEARCH_HZ: Final = (70.0, 350.0)  # of a detector that names no range of its own
LEAST_PERIODS: Final = 8.0  # in a window with a tone
LEAST_SAMPLES: Final = 12.0  # in a period of a tone
PLACES: Final = (0.1, 0.37, 0.63, 0.9)  # tones, from the lowest to the highest that fit
STEPS: Final = 200.0  # of the converter: amplitude of a tone's first partial, deviation of noise
PARTIALS: Final = 6  # of a tone, falling as 1/n
STARTS: Final = (0.0, 0.3, 0.6)  # phases of a tone, in periods
NOISES: Final = 8  # windows of noise
LARGEST: Final = sys.float_info.max
SHORT: Final = (0, 1, 2, 3, 5, 9)  # windows that no detector needs to understand


def check_detector(
    detector: Detector,
    rates: Sequence[float] = RATES_HZ,
    samples: Sequence[int] = WINDOWS,
    most_cents: float = 3.0,
) -> None:
    """Check that ``detector`` keeps the contract of ``models.detectors.base``.

    At each of ``rates`` (Hz) with each window of ``samples``, steady tones with six harmonics, inside ``lowest_hz`` and
    ``highest_hz`` of the detector where it has them, must be read within ``most_cents``; silence and white noise give
    no reading. The detector must be frozen, pure, leave its input alone, and answer any input with finite numbers. One
    that takes an inharmonicity is told 0. Raises ``AssertionError`` with one sentence that says what was found.
    """
    exact = told(detector, inharmonicity=0.0)
    _check_frozen(detector)
    for rate_hz, size in product(rates, samples):
        _check_tones(exact, rate_hz, size, most_cents)
        _check_deaf(exact, rate_hz, size)
        _check_any_input(exact, rate_hz, size)
        _check_cost(exact, rate_hz, size)


def _require(kept: bool, sentence: str) -> None:
    """Raise ``AssertionError`` unless ``kept``; unlike ``assert`` also under ``python -O``."""
    if not kept:
        raise AssertionError(sentence)


def _check_frozen(detector: Detector) -> None:
    for name in _attributes(detector):
        try:
            setattr(detector, name, getattr(detector, name))
        except (AttributeError, TypeError):
            continue
        raise AssertionError(f"parameters must be frozen, but {name} can be set: use a frozen dataclass or @component")


def _attributes(detector: Detector) -> tuple[str, ...]:
    if dataclasses.is_dataclass(detector):
        return tuple(field.name for field in dataclasses.fields(detector))
    return tuple(getattr(detector, "__dict__", ()))


def _check_tones(detector: Detector, rate_hz: float, size: int, most_cents: float) -> None:
    for pitch_hz in _pitches(detector, rate_hz, size):
        for start in STARTS:
            said = f"a steady tone of {pitch_hz:.2f} Hz at {rate_hz:g}/s in {size} samples"
            read = _estimate(detector, _tone(pitch_hz, rate_hz, size, start), rate_hz, said).pitch_hz
            _require(read is not None, f"it must hear {said}, got no reading")
            error = cents(read or pitch_hz, pitch_hz)
            _require(abs(error) <= most_cents, f"it must read {said} within {most_cents:g} cents, got {error:+.3f}")


def _pitches(detector: Detector, rate_hz: float, size: int) -> list[float]:
    """Return the pitches to try: in the search range, with enough periods and enough samples in each."""
    low = max(getattr(detector, "lowest_hz", SEARCH_HZ[0]), LEAST_PERIODS * rate_hz / size)
    high = min(getattr(detector, "highest_hz", SEARCH_HZ[1]), rate_hz / LEAST_SAMPLES)
    _require(
        low < high, f"no tone to try at {rate_hz:g}/s in {size} samples: give another rate, window or search range"
    )
    return [low * (high / low) ** place for place in PLACES]


def _tone(pitch_hz: float, rate_hz: float, size: int, start: float) -> Samples:
    """Return a window of a steady tone with harmonics below half the rate, from ``start`` periods on."""
    periods = start + np.arange(size) * (pitch_hz / rate_hz)
    numbers = np.arange(1, min(PARTIALS, math.floor(0.49 * rate_hz / pitch_hz)) + 1)
    partials = np.sin(2.0 * np.pi * np.outer(periods, numbers)) / numbers
    tone: Samples = STEPS * partials.sum(axis=1)
    return tone


def _check_deaf(detector: Detector, rate_hz: float, size: int) -> None:
    """Check silence and white noise, the same noise each time."""
    where = f"at {rate_hz:g}/s in {size} samples"
    read = _estimate(detector, np.zeros(size), rate_hz, f"silence {where}").pitch_hz
    _require(read is None, f"silence must give no reading (None), got {read} Hz {where}")
    random = np.random.default_rng(1)
    for _ in range(NOISES):
        read = _estimate(detector, STEPS * random.standard_normal(size), rate_hz, f"white noise {where}").pitch_hz
        _require(read is None, f"white noise must give no reading (None), got {read} Hz {where}")


def _check_any_input(detector: Detector, rate_hz: float, size: int) -> None:
    for name, samples in _odd_inputs(detector, rate_hz, size):
        _estimate(detector, samples, rate_hz, f"{name} at {rate_hz:g}/s")


def _odd_inputs(detector: Detector, rate_hz: float, size: int) -> Iterator[tuple[str, Samples]]:
    """Yield what a converter may deliver on a bad day, and what only a test delivers, with its name."""
    tone = _tone(_pitches(detector, rate_hz, size)[0], rate_hz, size, 0.0)
    yield "a clipped tone", np.clip(100.0 * tone, -STEPS, STEPS)
    yield "a constant", np.full(size, STEPS)
    yield "huge samples", 1e290 * tone
    yield "tiny samples", 1e-300 * tone
    yield "a click", STEPS * np.eye(1, size, size // 3)[0]
    yield "samples of changing sign", STEPS * np.cos(np.pi * np.arange(size))
    yield from ((f"a window of {short} samples", tone[:short]) for short in SHORT)


def _estimate(detector: Detector, samples: Samples, rate_hz: float, said: str) -> Estimate:
    """Return what the detector makes of ``samples``, called twice: equal, sane, and the input left as it was."""
    given = samples.copy()
    first, second = (_called(f"estimate of {said}", lambda: detector.estimate(given, rate_hz)) for _ in range(2))
    _require(np.array_equal(given, samples), f"estimate must not change the samples that it is given: {said}")
    _check_sane(first, rate_hz, said)
    _require(first == second, f"estimate must be pure: {said} gave {first!r}, then {second!r}")
    return Estimate(*first)


def _check_sane(answer: Any, rate_hz: float, said: str) -> None:
    _require(
        isinstance(answer, tuple) and len(answer) == 2,
        f"estimate must return Estimate(pitch_hz, periodicity), got {answer!r}",
    )
    pitch_hz, periodicity = answer
    _require(
        pitch_hz is None or (_within(pitch_hz, rate_hz / 2.0) and pitch_hz > 0.0),
        f"a pitch must be None or lie above 0 and up to half the rate, got {pitch_hz!r} Hz of {said}",
    )
    _require(_within(periodicity, 1.0), f"periodicity must lie in 0..1, got {periodicity!r} of {said}")


def _within(value: object, most: float) -> bool:
    """Return whether ``value`` is a number from 0 to ``most``."""
    return isinstance(value, Real) and 0.0 <= float(value) <= most


def _check_cost(detector: Any, rate_hz: float, size: int) -> None:
    """Check what a detector says of its cost; one that says nothing passes."""
    if hasattr(detector, "least_samples"):
        least = _called("least_samples", lambda: detector.least_samples(rate_hz))
        _require(_within(least, LARGEST), f"least_samples must be finite and 0 or more, got {least!r} at {rate_hz:g}/s")
    if hasattr(detector, "work"):
        work = _called("work", lambda: detector.work(size, rate_hz))
        _require(
            all(_within(count, LARGEST) for count in work),
            f"work must be finite and 0 or more, got {work!r} for {size} samples at {rate_hz:g}/s",
        )


def _called(what: str, call: Callable[[], Any]) -> Any:
    try:
        return call()
    except Exception as error:
        raise AssertionError(f"{what} raised {type(error).__name__}: {error}") from error
