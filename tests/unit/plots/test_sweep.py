"""The plots of a sweep show the numbers of its summary. Numbers are invented."""

from pathlib import Path
from typing import Any

from pytest import approx

from sim.views.plots.sweep import chart, curves, draw
from sim.views.plots.unknowns import bars


def point(values: list[float], share: float, p95: float | None, verdict: str = "meets") -> dict[str, Any]:
    return {
        "values": values, "strategy": "fine", "verdict": verdict,
        "stopped_by": "plucks p95" if verdict == "fails" else None,
        "in_tune": {"share": share, "low": share - 0.05, "high": min(1.0, share + 0.02)},
        "plucks": {"median": 8.0, "p95": p95},
    }  # fmt: skip


def axis(key: str, values: list[float], log: bool = False) -> dict[str, Any]:
    return {"key": f"strategies.fine.{key}", "unit": "deg", "log": log, "values": values}


TAKEN = {"recommended": [2.0], "verdict": "meets", "off": [{"low": 1.0, "high": 2.0}]}
LINE = {
    "axes": [axis("step_deg", [1.0, 2.0, 4.0], log=True)], "require": {"plucks": 30.0},
    "points": [point([1.0], 0.9, 20.0), point([2.0], 0.99, 25.0), point([4.0], 0.7, None, "fails")],
    "answers": [{"strategy": "fine", "all": TAKEN}],
}  # fmt: skip
PLANE = {
    "axes": [axis("step_deg", [1.0, 2.0]), axis("deadband_cents", [1.0, 3.0])],
    "points": [point([step, band], 0.9 + step / 100 + band / 1000, 20.0) for step in (1.0, 2.0) for band in (1.0, 3.0)],
    "answers": [{"strategy": "fine", "all": {"recommended": [2.0, 1.0], "verdict": "meets"}}],
}  # fmt: skip


def test_shares_intervals_region_and_choice_are_those_of_the_summary() -> None:
    tuned, plucks = curves(LINE).axes
    (bars_,) = tuned.containers
    assert list(bars_.lines[0].get_ydata()) == approx([90.0, 99.0, 70.0])
    ends = [(segment[0][1], segment[1][1]) for segment in bars_.lines[2][0].get_segments()]
    assert ends == [approx((85.0, 92.0)), approx((94.0, 100.0)), approx((65.0, 72.0))]
    assert [line.get_xdata()[0] for line in plucks.lines if line.get_gid() == "recommended"] == [2.0]
    (region,) = [patch for patch in tuned.patches if patch.get_gid() == "region"]
    assert (region.get_x(), region.get_x() + region.get_width()) == (1.0, 2.0)


def test_beyond_the_limit_is_marked_at_its_value() -> None:
    _, plucks = curves(LINE).axes
    beyond = [list(line.get_xdata()) for line in plucks.lines if line.get_gid() == "beyond"]
    assert beyond == [[], [4.0]]  # median, 95th percentile


def test_title_says_what_was_found_and_axes_have_units() -> None:
    drawn = curves(LINE)
    assert "take step_deg = 2 deg" in drawn.get_suptitle()
    assert "(deg)" in drawn.axes[1].get_xlabel()
    assert "(%)" in drawn.axes[0].get_ylabel()


def test_map_has_numbers_signs_and_a_frame_beside_its_shades() -> None:
    drawn = chart(PLANE, PLANE["answers"][0])
    (axes,) = drawn.axes
    assert [text.get_text() for text in axes.texts] == ["91 +", "91 +", "92 +", "92 +"]
    frames = [patch for patch in axes.patches if patch.get_gid() == "recommended"]
    assert [(frame.get_x() + 0.5, frame.get_y() + 0.5) for frame in frames] == [(0.0, 1.0)]
    assert axes.images[0].cmap.name == "Greys"


def test_equal_summaries_give_equal_files(tmp_path: Path) -> None:
    one, other = (draw(LINE, tmp_path / name) for name in ("a", "b"))
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in other]


def test_bars_are_totals_and_diamonds_firsts() -> None:
    listed = [
        {"key": key, "leads": 1.0, "total": {"index": total, "low": total - 0.05, "high": total + 0.1},
         "first": {"index": total - 0.2, "low": 0.0, "high": total}}
        for key, total in (("coupler.slop_deg", 0.7), ("nut.friction", 0.3))
    ]  # fmt: skip
    drawn = bars({"strategy": "fine", "measures": {"plucks": listed, "final_error_cents": []}})
    (axes,) = drawn.axes
    assert [patch.get_width() for patch in axes.patches] == approx([70.0, 30.0])
    (firsts,) = [line for line in axes.lines if line.get_gid() == "first"]
    assert list(firsts.get_xdata()) == approx([50.0, 10.0])
    assert "coupler.slop_deg matters most" in drawn.get_suptitle()
