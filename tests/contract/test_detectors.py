"""Every registered detector keeps the contract: as the library has it, and sane with any parameters that it allows."""

import math
from typing import Any

import numpy as np
import pytest
from drawn import components
from hypothesis import given, settings
from hypothesis import strategies as st

from models.component import resolve
from models.detectors import DETECTORS
from models.detectors.base import told
from models.detectors.checks import check_detector
from scenarios import library

PARTS = library.part_names()["detector"]
GROSS_CENTS = 50.0  # the largest error that is not a gross one; each detector's own bias is tested with it


def built(name: str) -> Any:
    """Return the detector of the library, searching where strings and windows leave eight periods and a safe octave."""
    part = library.part("detector", name)
    values = {key: sourced.value for key, sourced in part.values.items()}
    return told(resolve(DETECTORS, part.kind or "")(**values), lowest_hz=70.0, highest_hz=350.0)


def test_every_kind_has_a_part() -> None:
    assert {library.part("detector", name).kind for name in PARTS} == DETECTORS.keys()


@pytest.mark.parametrize("name", PARTS)
def test_parts_of_the_library_keep_the_contract(name: str) -> None:
    check_detector(built(name), rates=(4000.0,), samples=(1024, 2048), most_cents=GROSS_CENTS)


@pytest.mark.parametrize("name", PARTS)
def test_the_least_window_is_longer_for_lower_strings_and_higher_rates(name: str) -> None:
    detector = built(name)
    least = detector.least_samples(4000.0)
    assert 0 < least < 2048
    assert detector.least_samples(8000.0) > least
    assert told(detector, lowest_hz=35.0).least_samples(4000.0) > least


@pytest.mark.parametrize("name", PARTS)
def test_work_grows_with_the_window(name: str) -> None:
    short, long = (built(name).work(samples, 4000.0) for samples in (512, 2048))
    assert all(few <= many for few, many in zip(short, long, strict=True))
    assert short.words < long.words
    assert short.butterflies + short.multiplies < long.butterflies + long.multiplies


@pytest.mark.parametrize("name", PARTS)
def test_a_louder_sound_reads_the_same(name: str) -> None:
    """A pitch has no level, except where a 16-bit transform rounds."""
    sound = 100.0 * np.sin(2.0 * np.pi * 110.3 / 4000.0 * np.arange(1024) + 0.4)
    pitches = [built(name).estimate(gain * sound, 4000.0).pitch_hz for gain in (1.0, 4.0)]
    assert abs(1200.0 * math.log2(pitches[1] / pitches[0])) < 0.5


@pytest.mark.parametrize("kind", DETECTORS)
@settings(max_examples=40)
@given(data=st.data())
def test_any_parameters_give_sane_estimates_of_any_window(kind: str, data: st.DataObject) -> None:
    """Search ranges past half the rate, windows shorter than a period: a number in its range, or not heard."""
    detector = data.draw(components(resolve(DETECTORS, kind)))
    size, rate_hz = data.draw(st.integers(0, 300)), data.draw(st.sampled_from((8.0, 1024.0, 44100.0)))
    random = np.random.default_rng(data.draw(st.integers(0, 9)))
    sound = np.sin(np.arange(size) * random.uniform(0.0, 3.2)) + random.choice([0.0, 0.3]) * random.normal(size=size)
    pitch_hz, periodicity = detector.estimate(sound, rate_hz)
    assert pitch_hz is None or 0.0 < pitch_hz <= rate_hz / 2.0
    assert 0.0 <= periodicity <= 1.0
    assert all(0 <= count < math.inf for count in detector.work(size, rate_hz))
    assert detector.least_samples(rate_hz) >= 0
