"""Time, noise and spectrum show the details of a study. Studies are invented."""

import math
from dataclasses import replace

import numpy as np
from hearing_studies import (
    TWO,
    facts,
    marked,
    noise_row,
    overlapping,
    said,
    view,
)
from numpy.testing import assert_allclose
from pytest import approx

from sim.views.plots import (
    hearing_noise,
    hearing_spectrum,
    hearing_time,
)
from sim.views.plots.hearing_noise import HANN, noise, times_bound
from sim.views.plots.hearing_spectrum import folded, spectrum
from sim.views.plots.hearing_time import ACCEPTED, NOT_HEARD, OFF_SCALE, REFUSED, over_time


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
        "the strongest of them, 3, belongs at 660 Hz and is seen at 340 Hz, 16 dB below the top one",
        "folded into the range of the search, 180 to 270 Hz: none",
    ]
    assert hearing_spectrum.title(view("A", 8000.0)) == [
        "A: its 7 strongest partials lie below 4000 Hz, none folds back"
    ]
    assert "folded partial" not in said(spectrum(view("A", 8000.0)))
