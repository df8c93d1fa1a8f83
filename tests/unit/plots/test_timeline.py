"""The timeline shows the numbers of its traces and its title states what the measures say. Traces are invented."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from models.messages import DONE, Reading, Turn
from sim.metrics import measures
from sim.trace import Outcome, Trace
from sim.views.plots.timeline import NOT_HEARD, OFF_SCALE, READING, draw, timeline, title


def heard(at_s: float, cents: float | None) -> Reading:
    hertz = None if cents is None else 82.41 * 2 ** (cents / 1200)
    return Reading(hertz, cents, 0.9, at_s, at_s + 0.1, False, 1)


def trace(end_cents: float = 0.8, outcome: Outcome = Outcome.FINISHED, plucks: int = 3) -> Trace:
    error = np.array([-20.0, -20.0, end_cents, end_cents])
    zeros = np.zeros(4)
    return Trace(
        string="E2",
        target_hz=82.41,
        tolerance_cents=3.0,
        pitch="first-partial",
        outcome=outcome,
        detail="",
        end_s=6.0,
        t_s=np.array([0.0, 2.0, 2.1, 6.0]),
        shaft_deg=np.array([90.0, 90.0, 97.0, 97.0]),
        post_deg=np.array([500.0, 500.0, 500.4, 500.4]),
        tension_n=np.array([110.0, 110.0, 113.0, 113.0]),
        behind_n=np.array([110.0, 110.0, 113.0, 113.0]),
        first_partial_cents=error,
        effective_cents=error + 0.7,
        torque_nm=zeros,
        current_a=zeros,
        voltage_v=zeros,
        breaking_n=400.0,
        relaxed_error_cents=end_cents,
        energy_j=0.1,
        charge_c=0.02,
        plucks_s=tuple(1.0 + number for number in range(plucks)),
        readings=(heard(1.2, -20.5), heard(1.8, -1220.0), heard(3.0, 1201.0), heard(4.0, None), heard(5.0, 1.1)),
        commands=((1.4, Turn(7.0)), (6.0, DONE)),
        moves_deg=(7.0,),
    )


def panels(*named: tuple[str, Trace]) -> list[Any]:
    return timeline(named).axes


def marked(axes: Any, meaning: str) -> list[tuple[float, float]]:
    lines = [line for line in axes.lines if line.get_gid() == meaning]
    return [point for line in lines for point in zip(*line.get_data(), strict=True)]


def test_pitch_shaft_and_tension_are_the_traces() -> None:
    run = trace()
    pitch, shaft, tension, _ = panels(("fine", run))
    drawn = [line.get_ydata() for line in pitch.lines if len(line.get_xdata()) == len(run.t_s)]
    assert_array_equal(drawn[0], run.first_partial_cents)
    assert_array_equal(drawn[1], run.effective_cents)
    assert_array_equal(shaft.lines[0].get_ydata(), run.shaft_deg)
    assert_array_equal(tension.lines[0].get_ydata(), 100 * run.tension_n / run.breaking_n)
    assert all(axes.lines[-1].get_xdata()[0] >= 0.0 for axes in (pitch, shaft, tension))


def test_units_stand_on_every_axis() -> None:
    pitch, shaft, tension, events = panels(("fine", trace()))
    assert "cents" in pitch.get_ylabel()
    assert "deg" in shaft.get_ylabel()
    assert "%" in tension.get_ylabel()
    assert "(s)" in events.get_xlabel()


def test_readings_stand_at_window_centres_and_wild_ones_at_the_edge() -> None:
    pitch = panels(("fine", trace()))[0]
    low, high = pitch.get_ylim()
    assert marked(pitch, READING) == [(1.2, -20.5), (5.0, 1.1)]
    assert [at for at, _ in marked(pitch, OFF_SCALE)] == [3.0, 1.8]
    assert marked(pitch, NOT_HEARD)[0][0] == 4.0
    assert all(low < cents < high for _, cents in marked(pitch, OFF_SCALE) + marked(pitch, NOT_HEARD))


def test_the_pitch_panel_shows_the_whole_true_pitch_and_the_band() -> None:
    for end_cents in (0.1, -160.0):
        low, high = panels(("fine", trace(end_cents)))[0].get_ylim()
        assert low < min(-3.0, end_cents)
        assert high > 3.0


def test_plucks_and_moves_stand_on_the_time_axis() -> None:
    events = panels(("fine", trace()), ("coarse", replace(trace(), regrips_s=(2.5,))))[3]
    labels = [label.get_text() for label in events.get_yticklabels()]
    assert labels == ["fine: plucks", "fine: moves", "coarse: plucks", "coarse: moves", "coarse: re-grips"]
    assert [list(row.get_positions()) for row in events.collections] == [[1, 2, 3], [1.4], [1, 2, 3], [1.4], [2.5]]


def test_strategies_differ_in_line_and_mark_and_not_in_colour_only() -> None:
    shaft = panels(*((f"s{number}", trace()) for number in range(4)))[1]
    assert len({(line.get_linestyle(), str(line._dash_pattern)) for line in shaft.lines}) == 4


def test_the_title_states_what_the_measures_say() -> None:
    runs = (("fine", trace(0.8, plucks=12)), ("coarse", trace(5.1, Outcome.PLUCK_LIMIT, plucks=60)))
    assert title(runs) == [
        "E2: fine in tune, 0.8 cents sharp, after 12 plucks and 6.0 s",
        "coarse hit the pluck limit after 60 plucks and 6.0 s, 5.1 cents sharp",
    ]
    for sentence, (_, run) in zip(title(runs), runs, strict=True):
        found = measures(run)
        assert ("in tune" in sentence) == found["in_tune"]
        assert f"{abs(found['final_error_cents']):.1f} cents" in sentence
        assert f"{found['plucks']} plucks" in sentence


def test_the_title_knows_belief_from_truth_and_flat_from_sharp() -> None:
    assert title([("fine", trace(-4.0))]) == [
        "E2: fine finished but not in tune, 4.0 cents flat, after 3 plucks and 6.0 s"
    ]


@pytest.mark.parametrize("outcome", list(Outcome))
def test_every_outcome_can_be_told_and_drawn(outcome: Outcome) -> None:
    run = trace(math.nan if outcome is Outcome.STRING_BROKE else 30.0, outcome, plucks=1)
    (sentence,) = title([("fine", run)])
    assert "1 pluck and" in sentence
    assert ("no pitch left" in sentence) == (outcome is Outcome.STRING_BROKE)
    assert len(timeline([("fine", run)]).axes) == 4


def test_files_are_the_same_each_time(tmp_path: Path) -> None:
    written = [draw([("fine", trace()), ("coarse", trace(-4.0))], tmp_path / name) for name in ("one", "two")]
    assert [path.name for path in written[0]] == ["timeline.svg", "timeline.png"]
    assert [path.read_bytes() for path in written[0]] == [path.read_bytes() for path in written[1]]


def test_nothing_to_draw_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one run"):
        timeline([])
