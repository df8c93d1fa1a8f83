"""All pictures of a study of hearing: no words overlap, the truth behind cents is named, axes have units."""

import math
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from hearing_studies import (
    overlapping,
    pictures,
    said,
    study,
    view,
    words_on_paper,
)

from models.strings.tension import Pitch
from sim.views.plots.hearing import draw
from sim.views.plots.hearing_bias import bias
from sim.views.plots.hearing_panels import TRUTHS, spoken
from sim.views.plots.hearing_spectrum import spectrum
from sim.views.plots.style import save


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
