"""Invented studies of hearing, their pictures, and what a test reads from a picture."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.text import Text

from sim.hearing.study import (
    Cell,
    Count,
    Details,
    Latency,
    LongPluck,
    NoiseRow,
    SpectrumView,
    StringFacts,
    Study,
)
from sim.views.plots.hearing_bias import bias
from sim.views.plots.hearing_latency import latency
from sim.views.plots.hearing_noise import noise
from sim.views.plots.hearing_outcomes import outcomes
from sim.views.plots.hearing_spectrum import spectrum
from sim.views.plots.hearing_time import over_time


def count(number: int, of: int = 200) -> Count:
    return Count(number, of, min(1.0, number / of + 0.03))


def cell(string: str, detector: str, **changed: Any) -> Cell:
    plain = Cell(
        string=string,
        detector=detector,
        readings=200,
        bias_cents=1.4,
        std_cents=0.6,
        bound_cents=0.1,
        gross=count(0),
        octave_up=count(0),
        octave_down=count(0),
        other=count(0),
        missed=count(0),
        latency=Latency(0.3, 0.256, 0.0025, 0.0017, 0.128),
        ram_bytes=4000,
        cpu_s=0.0025,
        fits=True,
        accepted=190,
        p95_cents=2.1,
        verdict="serves",
    )
    return replace(plain, **changed)


def facts(string: str, number: int = 0) -> StringFacts:
    return StringFacts(string, 82.41 * 1.3**number, 20.9, 12, 34.0, 1.1 - 0.3 * number, 0.8, -0.4)


def wrong(string: str) -> Cell:
    """Return a cell with every outcome, no bias to speak of, and a processor that is too small."""
    shares = {"gross": count(90), "octave_up": count(50), "octave_down": count(30), "other": count(10)}
    slow = Latency(0.3, 0.256, 0.2, 0.0017, 0.128)
    return cell(string, "hasty", **shares, missed=count(20), bias_cents=31.0, latency=slow, fits=False)


def pluck(string: str) -> LongPluck:
    seconds = np.linspace(0.2, 5.0, 40)
    error = 2.0 * np.exp(-seconds) + 0.3 * np.cos(9.0 * seconds)
    error[[5, 6, 7]] = 1200.0, -1203.0, math.nan
    true = np.linspace(0.0, 5.0, 200)
    glide = 5.0 * np.exp(-true / 0.3)
    accepted = seconds < 4.0
    accepted[5:8] = False
    return LongPluck(string, seconds, error, accepted, 40.0 - 8.0 * seconds, true, glide, glide + np.sin(3.0 * true))


def noise_row(string: str) -> NoiseRow:
    bound = np.array([0.01, 0.1, 1.0])
    return NoiseRow(
        string, np.array([0.1, 1.0, 10.0]), np.array([50.0, 30.0, 10.0]), bound * [2.0, 2.0, 3.0], bound,
        np.array([0.0, 0.0, 0.4]), 0.7,
    )  # fmt: skip


def view(string: str, rate_hz: float = 1000.0) -> SpectrumView:
    hz, numbers = np.linspace(0.0, rate_hz / 2.0, 500), np.arange(1, 8)
    true = 220.0 * numbers
    seen = np.abs(true - rate_hz * np.rint(true / rate_hz))
    return SpectrumView(
        string, rate_hz, hz, -40.0 - 10.0 * np.cos(hz), (180.0, 270.0), numbers, true, seen, -8.0 * (numbers - 1.0)
    )


def study(strings: int = 2, detectors: int = 2, truth: str = "first-partial") -> Study:
    names = [f"string {number}" for number in range(strings)]
    known = ["careful", "hasty", *(f"detector-with-a-long-name-{number}" for number in range(13))][:detectors]
    cells = [wrong(string) if name == "hasty" else cell(string, name) for string in names for name in known]
    return Study(
        rig="invented", seed=1, truth=truth, tolerance_cents=3.0, own="careful", detectors=tuple(known),
        strings={name: facts(name, number) for number, name in enumerate(names)},
        cells=tuple(cells), remarks=(), advice=(),
        details=Details(pluck(names[0]), tuple(noise_row(name) for name in names), view(names[-1])),
    )  # fmt: skip


TWO = study()


def pictures(found: Study) -> dict[str, Figure]:
    assert found.details is not None
    return {
        "outcomes": outcomes(found),
        "bias": bias(found),
        "latency": latency(found),
        "time": over_time(found, found.details.long_pluck),
        "noise": noise(found, found.details.noise),
        "spectrum": spectrum(found.details.spectrum),
    }


def texts(drawn: Figure) -> list[Text]:
    found = drawn.findobj(lambda each: isinstance(each, Text) and each.get_visible() and bool(each.get_text().strip()))
    return [each for each in found if isinstance(each, Text)]


def said(drawn: Figure) -> str:
    return "\n".join(each.get_text() for each in texts(drawn))


def marked(axes: Any, meaning: str) -> list[tuple[float, float]]:
    lines = [line for line in axes.lines if line.get_gid() == meaning]
    return [(float(x), float(y)) for line in lines for x, y in zip(*line.get_data(), strict=True)]


def words_on_paper(drawn: Figure) -> Iterator[tuple[str, Any]]:
    """Yield the texts that are drawn with their boxes in pixels; ticks beyond the view of an axis are not."""
    drawn.draw_without_rendering()
    drawn.draw_without_rendering()
    unseen = {id(label) for axes in drawn.axes for axis in (axes.xaxis, axes.yaxis) for label in _beyond(axis)}
    for each in texts(drawn):
        if id(each) not in unseen:
            yield each.get_text(), each.get_window_extent()


def _beyond(axis: Any) -> list[Text]:
    low, high = sorted(axis.get_view_interval())
    return [tick.label1 for tick in axis.get_major_ticks() if not low <= tick.get_loc() <= high]


def overlapping(drawn: Figure) -> list[tuple[str, str]]:
    """Return pairs of words whose boxes meet by more than a pixel."""
    words = [(text, box.padded(-1)) for text, box in words_on_paper(drawn)]
    return [(one[0], two[0]) for one, two in combinations(words, 2) if one[1].overlaps(two[1])]
