"""The plots of a comparison show the numbers of its summary. Numbers are invented."""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from pytest import approx

from sim.views.plots.comparison import draw, effort, effort_title, in_tune, in_tune_title
from sim.views.plots.style import LOOKS, look


def found(count: int, median: float | None, p95: float | None, highest: float | None) -> dict[str, Any]:
    share = {
        "count": count,
        "of": 40,
        "share": count / 40,
        "low": count / 40 - 0.05,
        "high": min(1.0, count / 40 + 0.04),
    }
    tension = {"median": None if highest is None else highest - 9.0, "p95": highest, "max": highest}
    return {"in_tune": share, "plucks": {"median": median, "p95": p95}, "percent_of_breaking": tension}


def strategy(name: str, rig: str = "default", **by_string: dict[str, Any]) -> dict[str, Any]:
    count = sum(one["in_tune"]["count"] for one in by_string.values())
    whole = found(0, 8.0, 21.0, 70.0)
    whole["in_tune"] = {"count": count, "of": 40 * len(by_string), "share": count / (40 * len(by_string))}
    return {"rig": rig, "name": name, "by_string": by_string, **whole}


SUMMARY = {
    "rigs": ["default"],
    "strategies": [
        strategy("coarse", E2=found(4, None, None, 41.0), A2=found(39, 5.0, None, 66.5)),
        strategy("fine", E2=found(40, 9.0, 14.0, 40.0), A2=found(40, 11.0, 20.0, 64.0)),
    ],
}


def spans(axes: Any) -> list[tuple[float, float]]:
    return [tuple(line.get_xdata()) for line in axes.lines if line.get_gid() == "span"]


def marks(axes: Any, meaning: str) -> list[str]:
    return [line.get_marker() for line in axes.lines if line.get_gid() == meaning]


def by_string(measure: str) -> list[dict[str, Any]]:
    return [one[measure] for entry in SUMMARY["strategies"] for one in entry["by_string"].values()]


def test_shares_and_intervals_are_those_of_the_summary() -> None:
    (axes,) = in_tune(SUMMARY).axes
    drawn = [x for bars in axes.containers for x in bars.lines[0].get_xdata()]
    ends = [(segment[0][0], segment[1][0]) for bars in axes.containers for segment in bars.lines[2][0].get_segments()]
    shares = by_string("in_tune")
    assert drawn == approx([100 * share["share"] for share in shares])
    assert [low for low, _ in ends] == approx([100 * share["low"] for share in shares])
    assert [high for _, high in ends] == approx([100 * share["high"] for share in shares])


def test_each_row_stands_beside_its_string() -> None:
    (axes,) = in_tune(SUMMARY).axes
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert names == ["E2", "A2"]
    for bars in axes.containers:
        assert [names[round(y)] for y in bars.lines[0].get_ydata()] == names


def test_effort_is_that_of_the_summary_and_arrows_say_beyond() -> None:
    plucks, tension = effort(SUMMARY).axes
    edge = plucks.get_xlim()[1]
    expected = [(one["median"], one["p95"]) for one in by_string("plucks")]
    for (median, upper), span in zip(expected, spans(plucks), strict=True):
        assert median is None or span[0] == median
        assert upper is None or span[1] == upper
        assert 20.0 < span[1] < edge or upper is not None
    assert [mark == ">" for mark in marks(plucks, "median")] == [median is None for median, _ in expected]
    assert [mark == ">" for mark in marks(plucks, "upper")] == [upper is None for _, upper in expected]
    assert spans(tension) == [(one["median"], one["max"]) for one in by_string("percent_of_breaking")]


def test_titles_state_what_was_found() -> None:
    assert in_tune_title(SUMMARY) == [
        "coarse: 43 of 80 tunings in tune; fewest on E2, 4 of 40",
        "fine: 80 of 80 tunings in tune",
    ]
    assert effort_title(SUMMARY) == [
        "coarse: plucks 8 in the median, 21 at the 95th percentile; up to 66 % of breaking (A2)",
        "fine: plucks 8 in the median, 21 at the 95th percentile; up to 64 % of breaking (A2)",
    ]


def test_of_many_strategies_the_title_names_best_and_worst_with_their_rig() -> None:
    many = {
        "rigs": ["one", "two"],
        "strategies": [
            strategy(f"s{count}", rig, E2=found(count, 5.0, 9.0, 40.0))
            for rig, count in (("one", 20), ("one", 30), ("two", 39), ("two", 10), ("two", 25))
        ],
    }
    said = in_tune_title(many)
    assert said[0].startswith("5 strategies")
    assert said[1] == "two: s39: 39 of 40 tunings in tune"
    assert said[-1] == "two: s10: 10 of 40 tunings in tune"


def test_a_run_without_tension_is_left_out_of_the_title() -> None:
    lost = {"rigs": ["r"], "strategies": [strategy("coarse", E2=found(0, None, None, None))]}
    assert "breaking" not in effort_title(lost)[0]
    assert len(effort(lost).axes) == 2


def test_units_stand_on_every_axis() -> None:
    labels = [axes.get_xlabel() for drawn in (in_tune(SUMMARY), effort(SUMMARY)) for axes in drawn.axes]
    assert [word in label for word, label in zip(("%", "plucks", "% of breaking"), labels, strict=True)] == [True] * 3


def test_looks_differ_in_more_than_colour() -> None:
    assert len({str(one.line) for one in LOOKS}) == len({one.marker for one in LOOKS}) == len(LOOKS)
    assert len({str(look(number)) for number in range(36)}) == 36


def test_files_are_the_same_each_time(tmp_path: Path) -> None:
    written = [draw(SimpleNamespace(summary=SUMMARY), tmp_path / name) for name in ("one", "two")]
    assert [path.name for path in written[0]] == ["in_tune.svg", "in_tune.png", "effort.svg", "effort.png"]
    assert [path.read_bytes() for path in written[0]] == [path.read_bytes() for path in written[1]]


@pytest.mark.parametrize("drawing", [in_tune, effort])
def test_no_text_is_cut_off(drawing: Any) -> None:
    """Every visible text lies inside the figure once it is laid out."""
    drawn = drawing(SUMMARY)
    drawn.draw_without_rendering()
    box = drawn.bbox.padded(1.0)
    texts = [drawn._suptitle, *(label for axes in drawn.axes for label in (axes.xaxis.label, axes.yaxis.label))]
    for text in texts:
        extent = text.get_window_extent()
        assert box.x0 <= extent.x0 <= extent.x1 <= box.x1, text.get_text()
        assert box.y0 <= extent.y0 <= extent.y1 <= box.y1, text.get_text()
