"""The wrapper that finds out which way a knob tightens: on a plant of one line that turns either way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controllers.bang_bang import BangBang
from controllers.checks import TASK, reading
from controllers.wrappers.find_sense import NOT_RESOLVED, FindSense
from models.messages import GiveUp, Turn

LAW = BangBang(step_deg=5.0, deadband_cents=2.0)


def finding(**changes: float) -> FindSense:
    limits = {"probe_deg": 20.0, "sharpest_cents": 100.0, "least_cents": 6.0, "most_cents": 80.0}
    return FindSense(LAW, **(limits | changes))


def tuned(start_cents: float, cents_per_deg: float, readings: int = 60) -> tuple[float, list[object]]:
    """Return the pitch error in the end, and all commands, of a string that follows every turn at once."""
    controller = finding()
    memory, error, commands = controller.start(TASK), start_cents, []
    for number in range(readings):
        command, memory = controller.update(memory, reading(error, number))
        commands.append(command)
        if isinstance(command, Turn):
            error += cents_per_deg * command.angle_deg
    return error, commands


@given(start=st.floats(-60.0, 60.0), sense=st.sampled_from([-1, 1]))
def test_either_way_of_turning_comes_into_tune(start: float, sense: int) -> None:
    error, commands = tuned(start, sense * 0.7)
    assert abs(error) <= 2.0 + 5.0 * 0.7
    assert not any(isinstance(command, GiveUp) for command in commands)


def test_a_string_in_tune_is_not_moved() -> None:
    assert not any(isinstance(command, Turn) for command in tuned(0.5, 0.7)[1])


@pytest.mark.parametrize("cents_per_deg", [0.0, 0.1, 9.0])
def test_too_little_or_too_much_tells_nothing(cents_per_deg: float) -> None:
    """Slop swallowed the move, or the reading was wrong: the machine gives up after that one small move."""
    commands = tuned(-40.0, cents_per_deg)[1]
    turns = [command for command in commands if isinstance(command, Turn)]
    assert turns == [Turn(20.0)]
    assert GiveUp(NOT_RESOLVED) in commands


def test_a_string_too_close_to_breaking_is_not_moved_at_all() -> None:
    commands = tuned(120.0, 0.7)[1]
    assert commands[0] == GiveUp(NOT_RESOLVED)
