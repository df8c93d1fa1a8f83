"""A strategy that spins a motor which only turns by angles is refused before anything runs."""

import pytest

from sim.cli import main

SPINNER = ["--set", "strategies.spinner.kind=bang-bang-spin", "--quiet"]


@pytest.mark.parametrize("command", [["run", "--strategy", "spinner"], ["compare", "--rigs", "1", "--tunings", "1"]])
def test_spinning_a_servo_is_refused(command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*command, *SPINNER]) == 2
    told = capsys.readouterr()
    assert "spinner asks the motor to spin, which it cannot" in told.err
    assert told.out == ""


def test_leaving_it_out_is_enough() -> None:
    chosen = ["--strategies", "fine", "--rigs", "1", "--tunings", "1"]
    assert main(["compare", *chosen, *SPINNER]) == 0


def test_a_motor_that_spins_is_tuned_while_it_turns(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "theory", "--strategy", "spinner", *SPINNER, "--set", "ear.part=careful"]) == 0
    assert "finished" in capsys.readouterr().out
