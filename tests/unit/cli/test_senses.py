"""Which way a knob tightens is told, and that it is unknown is told too."""

import pytest

from sim.cli import main


@pytest.mark.parametrize(
    ("sense", "told"),
    [("clockwise", "tighten clockwise"), ("unknown", "is unknown"), ("anticlockwise", "anticlockwise")],
)
def test_check_tells_the_sense_of_the_knobs(sense: str, told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "theory", "--set", f"head.tightens={sense}"]) == 0
    assert told in " ".join(capsys.readouterr().out.split())
