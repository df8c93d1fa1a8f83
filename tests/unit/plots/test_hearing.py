"""The pictures of a study of hearing show its numbers, name what cents are measured from, and overlap nowhere.

Studies are invented.
"""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text
from numpy.testing import assert_allclose
from pytest import approx

from models.instrument import Pitch
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
from sim.views.plots import (
    hearing_bias,
    hearing_latency,
    hearing_noise,
    hearing_outcomes,
    hearing_spectrum,
    hearing_time,
)
from sim.views.plots.hearing import draw
from sim.views.plots.hearing_bias import bias, predicted
from sim.views.plots.hearing_latency import latency, milliseconds
from sim.views.plots.hearing_noise import HANN, noise, times_bound
from sim.views.plots.hearing_outcomes import SHADES, outcomes, tally
from sim.views.plots.hearing_panels import TRUTHS, spoken
from sim.views.plots.hearing_spectrum import folded, spectrum
from sim.views.plots.hearing_time import ACCEPTED, NOT_HEARD, OFF_SCALE, REFUSED, over_time
from sim.views.plots.style import save


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


@pytest.mark.parametrize(("strings", "detectors"), [(1, 1), (3, 4)])
def test_no_words_overlap_and_none_is_cut(strings: int, detectors: int) -> None:
    for name, drawn in pictures(study(strings, detectors)).items():
        assert overlapping(drawn) == [], name
        width = drawn.bbox.x1
        cut = [text for text, box in words_on_paper(drawn) if min(box.x0, box.y0) < -1 or box.x1 > width + 1]
        assert cut == [], name


@pytest.mark.slow
@pytest.mark.parametrize(("strings", "detectors"), [(6, 6), (12, 13)])
def test_no_words_overlap_in_large_studies(strings: int, detectors: int) -> None:
    test_no_words_overlap_and_none_is_cut(strings, detectors)


@pytest.mark.parametrize("truth", TRUTHS)
def test_every_picture_of_errors_names_the_truth(truth: str) -> None:
    found = study(1, 1, truth)
    drawn = pictures(found)
    for name in ("outcomes", "bias", "time", "noise"):
        assert TRUTHS[truth] in said(drawn[name]).replace("\n", " "), name


def test_every_pitch_that_a_task_may_mean_has_words() -> None:
    assert set(TRUTHS) == set(get_args(Pitch))


def test_axes_have_units() -> None:
    units = {"outcomes": ["%"], "bias": ["cents"], "latency": ["ms"], "time": ["cents", "dB", "s"],
             "noise": ["dB", "cents"], "spectrum": ["Hz", "dB"]}  # fmt: skip
    for name, drawn in pictures(study(1, 1)).items():
        labels = " ".join(axes.get_xlabel() + axes.get_ylabel() for axes in drawn.axes)
        assert [unit for unit in units[name] if f"({unit})" not in labels] == [], name


def test_every_column_of_panels_has_numbers_under_it() -> None:
    """Five panels in three columns: the third column ends a row earlier."""
    shown = [axes.xaxis.get_major_ticks()[0].label1.get_visible() for axes in bias(study(1, 4)).axes]
    assert shown == [False, False, True, True, True]


def test_outcomes_add_up_and_stand_in_the_bars() -> None:
    drawn = outcomes(TWO)
    assert tally([wrong("A")]) == (90, 50, 30, 10, 20)
    _, hasty = drawn.axes
    widths = {bars.get_label(): [bar.get_width() for bar in bars] for bars in hasty.containers}
    assert widths == {
        meaning: approx([share] * 2) for meaning, share in zip(SHADES, (45.0, 25.0, 15.0, 5.0, 10.0), strict=True)
    }
    starts = [[bar.get_x() for bar in bars] for bars in hasty.containers]
    assert_allclose(starts, np.array([[0.0, 45.0, 70.0, 85.0, 90.0]] * 2).T)


def test_outcomes_differ_in_brightness_or_hatching() -> None:
    """Weights of red, green and blue in brightness: ITU-R BT.601."""

    def grey(colour: str) -> float:
        return float(np.dot([int(colour[at : at + 2], 16) for at in (1, 3, 5)], [0.299, 0.587, 0.114]))

    shades = [(grey(shade["facecolor"]), shade.get("hatch", "")) for shade in SHADES.values()]
    alike = [(one, two) for one, two in combinations(shades, 2) if abs(one[0] - two[0]) < 25 and one[1] == two[1]]
    assert alike == []


def test_outcomes_title_counts_and_bounds_what_was_not_seen() -> None:
    surer = replace(TWO.cells[0], gross=Count(0, 200, 0.01))
    own, worst = hearing_outcomes.title(replace(TWO, cells=(surer, *TWO.cells[1:])))
    assert (
        own
        == "careful: 400 of 400 windows within 50 cents of the first partial; gross: none (at most 3 % on any string)"
    )
    assert worst.startswith("fewest near: hasty: 180 of 400 windows")
    assert worst.endswith("100 an octave up, 60 an octave down, 20 otherwise wrong, 40 missed")


def test_a_prediction_is_the_sum_of_its_parts_and_drawn_end_to_end() -> None:
    drawn = bias(TWO)
    expected = drawn.axes[0]
    first = [bar for bars in expected.containers for bar in bars][:3]
    ends = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in first]
    assert_allclose(ends, [(0.0, 1.1), (1.1, 1.9), (1.9, 1.5)])
    assert predicted(facts("A")) == approx(1.5)
    for axes in drawn.axes:
        assert [x for x, _ in marked(axes, "sum")] == approx([1.5, 1.2])


def test_bias_is_marked_with_its_spread_and_a_far_one_as_an_arrow() -> None:
    _, own, hasty = bias(TWO).axes
    (first, _) = own.containers
    assert first.lines[0].get_xdata()[0] == approx(1.4)
    assert first.lines[2][0].get_segments()[0][:, 0] == approx([0.8, 2.0])
    assert hasty.containers == []
    assert [line.get_marker() for line in hasty.lines if line.get_gid() == hearing_bias.OFF_SCALE] == [">", ">"]
    assert [text.get_text() for text in hasty.texts] == ["+31", "+31"]


def test_bias_title_names_the_largest_and_what_was_expected() -> None:
    cells = (cell("string 0", "careful", bias_cents=-4.0), cell("string 1", "careful", bias_cents=math.nan))
    found = replace(study(2, 1), cells=cells)
    assert hearing_bias.title(found) == [
        "careful re the first partial: largest bias -4.0 cents, on string 0, "
        "where +1.5 are expected of a detector of the period",
        "bias and expectation differ by at most 5.5 cents (string 0)",
    ]
    assert "none within 50" in said(bias(found))


def test_latency_passes_in_order_and_ends_at_its_sum() -> None:
    own, every = latency(TWO).axes
    bars = [bar for each in own.containers for bar in each]
    ends = [bar.get_x() + bar.get_width() for bar in bars]
    assert [bar.get_x() for bar in bars] == approx([0.0, *ends[:-1]])
    assert ends[-1] == approx(1e3 * TWO.cells[0].latency.total_s())
    assert sum(milliseconds(TWO.cells[0].latency).values()) == approx(ends[-1])
    assert [text.get_text() for text in every.texts] == ["688 ms", "886 ms, does not fit"]
    assert every.containers[4].patches[0].get_x() + 128.0 == approx(ends[-1])  # last part of the first bar


def test_latency_title_and_a_cost_that_nobody_knows() -> None:
    assert hearing_latency.title(TWO) == [
        "careful: 688 ms from the pluck to the first valid reading",
        "longest part: skip after the pluck, 300 ms (44 %)",
    ]
    silent = cell("string 0", "careful", latency=Latency(0.3, 0.256, None, 0.0017, 0.128), fits=None)
    found = replace(study(1, 1), cells=(silent,))
    assert "unknown" in said(latency(found))
    assert "at least 686 ms" in hearing_latency.title(found)[0]


def test_readings_are_marked_by_what_became_of_them() -> None:
    assert TWO.details is not None
    long = TWO.details.long_pluck
    pitch, ratio = over_time(TWO, long).axes
    assert len(marked(pitch, ACCEPTED)) == np.count_nonzero(long.accepted)
    assert len(marked(pitch, REFUSED)) == long.seconds.size - np.count_nonzero(long.accepted) - 3
    bottom, top = pitch.get_ylim()
    assert [x for x, _ in marked(pitch, OFF_SCALE)] == approx(long.seconds[[5, 6]])
    assert [y for _, y in marked(pitch, OFF_SCALE)] == approx([0.95 * top, 0.95 * bottom])
    assert [x for x, _ in marked(pitch, NOT_HEARD)] == approx([long.seconds[7]])
    assert 0.8 * bottom > marked(pitch, NOT_HEARD)[0][1] > bottom
    assert [y for _, y in marked(pitch, "true")] == approx(long.true_cents)
    assert [y for _, y in marked(pitch, "glide")] == approx(long.glide_cents)
    assert ratio.lines[0].get_ydata() == approx(long.snr_db)


def test_time_title_counts_readings_and_tells_glide_and_beats() -> None:
    """A beat of sin(x) stays within sin of the percentile: 1.0 for 95 % of the time (independent arithmetic)."""
    assert TWO.details is not None
    first, second = hearing_time.title(TWO, TWO.details.long_pluck)
    accepted = np.count_nonzero(TWO.details.long_pluck.accepted)
    near = f"{accepted} of 40 windows accepted, {accepted} of them within ±3 cents of the first partial"
    assert first == f"string 0, careful: {near}"
    assert "from +5.0 to +0.0 cents" in second
    assert "beat within ±1.0 cents" in second


def test_spread_bound_and_hann_line_over_noise() -> None:
    """A Hann window costs 1.53 times the bound of Rife & Boorstyn (1974): independent arithmetic."""
    row = noise_row("A")
    axes = noise(replace(TWO, strings={"A": facts("A")}), [row]).axes[0]
    assert_allclose(marked(axes, "bound"), np.column_stack([row.snr_db, row.bound_cents]))
    assert [y for _, y in marked(axes, "hann")] == approx(1.53 * row.bound_cents)
    assert [y for _, y in marked(axes, "spread")] == approx(row.std_cents)
    assert marked(axes, "doubtful") == [(10.0, approx(3.0))]
    assert axes.get_yscale() == "log"
    left, right = axes.get_xlim()
    assert left > right  # noise grows to the right


def test_hann_constant_follows_from_the_moments_of_the_window() -> None:
    """sqrt(sum w^2 t^2 sum t^2) / sum w t^2, the loss of a weighted phase slope (independent arithmetic)."""
    t = np.arange(4096) - 2047.5
    w = 0.5 + 0.5 * np.cos(2.0 * np.pi * t / 4096)
    assert math.sqrt((w**2 @ t**2) * (t @ t)) / (w @ t**2) == approx(HANN, abs=0.002)


def test_noise_title_lies_between_the_levels() -> None:
    row = noise_row("A")
    assert times_bound(row, 20.0) == approx(2.5)
    assert times_bound(row, 90.0) == approx(2.0)
    (near, floor) = hearing_noise.title(replace(TWO, strings={"A": replace(facts("A"), snr_db=20.0)}), [row])
    assert "by 2.5 times the Cramér-Rao bound" in near
    assert floor.startswith("without noise 0.70 cents remain")


def test_partials_are_named_by_their_true_number() -> None:
    """Partials 3, 4, ... of 220 Hz lie above 500 Hz; at 1000/s the third is seen at |660 - 1000| = 340 Hz."""
    found = view("A")
    axes = spectrum(found).axes[0]
    assert list(found.partials[folded(found)]) == [3, 4, 5, 6, 7]
    assert marked(axes, "folded")[0] == approx((340.0, -16.0))
    assert [x for x, _ in marked(axes, "partial")] == approx([220.0, 440.0])
    names = {text.get_text() for text in axes.texts}
    assert {"1", "2", "3 folded", "4 folded", "5 folded"} <= names


def test_of_two_partials_in_one_place_the_stronger_is_named() -> None:
    """At 1000/s the partials 2 and 3 of 200 Hz are both seen at 400 Hz; both are marked."""
    plain = view("A")
    crowded = replace(plain, true_hz=plain.partials * 200.0, seen_hz=np.array([200.0, 400, 400, 200, 0, 200, 400]))
    drawn = spectrum(crowded)
    names = {text.get_text() for text in drawn.axes[0].texts}
    assert "2" in names
    assert "3 folded" not in names
    assert len(marked(drawn.axes[0], "folded")) == 5
    assert overlapping(drawn) == []


def test_spectrum_title_tells_what_folds_and_where_the_search_meets_it() -> None:
    assert hearing_spectrum.title(view("A")) == [
        "A: 5 of its 7 strongest partials lie above 500 Hz and fold back",
        "the strongest of them, 3, belongs at 660 Hz and is seen at 340 Hz, 16 dB below the strongest of all",
        "folded into the range of the search, 180 to 270 Hz: none",
    ]
    assert hearing_spectrum.title(view("A", 8000.0)) == [
        "A: its 7 strongest partials lie below 4000 Hz, none folds back"
    ]
    assert "folded partial" not in said(spectrum(view("A", 8000.0)))


def test_ranges_in_words() -> None:
    assert spoken([1.24, math.nan, 3.0]) == "1.2 to 3.0"
    assert spoken([2.0, 2.01]) == "2.0"
    assert spoken([math.nan]) == "an unknown number of"


def written(paths: list[Path]) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in paths}


def test_equal_studies_give_equal_files(tmp_path: Path) -> None:
    """Bars with hatching, error bars and arrows; words over lines."""
    for picture in (lambda: bias(study(1, 2)), lambda: spectrum(view("A"))):
        assert written(save(picture(), tmp_path / "once", "it")) == written(save(picture(), tmp_path / "again", "it"))


@pytest.mark.slow
def test_equal_studies_give_equal_files_of_every_picture(tmp_path: Path) -> None:
    once, again = (written(draw(study(6, 6), tmp_path / place)) for place in ("once", "again"))
    assert len(once) == 12
    assert once == again


def test_a_study_without_details_has_three_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sim.views.plots.hearing.save", lambda drawn, out, stem: [out / stem])
    three = {"hearing_outcomes", "hearing_bias", "hearing_latency"}
    assert {path.name for path in draw(replace(study(1, 1), details=None), Path())} == three
    six = {path.name for path in draw(study(1, 1), Path())}
    assert six == three | {"hearing_time", "hearing_noise", "hearing_spectrum"}
