"""Every series shows itself in a notebook, whatever its summary holds."""

from scenarios.load import load_rig
from sim.series.compare import compare
from sim.series.faults import Ask, fault_series


def test_a_series_of_faults_shows_what_it_holds() -> None:
    ask = Ask(faults=["hang"], guards=["silence"], strings=["E4"], specimens=2, jobs=1)
    html = fault_series(load_rig("default"), ask)._repr_html_()
    assert html.startswith("<p>4 runs; found, in summary: rig, seed, specimens, cells")


def test_another_summary_is_named_and_escaped() -> None:
    found = compare(
        [load_rig("default")], strings=["E4"], specimens=2, tunings=1, jobs=1,
        summarise=lambda *_: {"strategies": [{"strategy": "fine", "measures": {}}], "<b>": 1},
    )  # fmt: skip
    assert "strategies, &lt;b&gt;</p>" in found._repr_html_()
