"""Plants of a line for tests of laws: an integrator in cents with play and delay, and a string's tension map."""

import math
from collections.abc import Callable
from typing import Any

from controllers.base import Controller
from controllers.checks import TASK, reading
from models.head.play import play
from models.messages import Turn


def linear(cents: float, turn_deg: float) -> float:
    """``c[k+1] = c[k] + u[k]``: one cent per degree."""
    return cents + turn_deg


def tension_map(cents_per_deg: float) -> Callable[[float, float], float]:
    """A string without bending stiffness: ``c = 600 log2(T)``, tension in proportion to the turn from slack."""
    slack_to_pitch_deg = 600.0 / (math.log(2.0) * cents_per_deg)
    return lambda cents, turn_deg: 600.0 * math.log2(2.0 ** (cents / 600.0) + turn_deg / slack_to_pitch_deg)


def errors(
    controller: Controller,
    start_cents: float,
    steps: int,
    *,
    plant: Callable[[float, float], float] = linear,
    play_deg: float = 0.0,
    delay: int = 0,
    hears: Callable[[float, int], float | None] = lambda cents, number: cents,
) -> list[float]:
    """Return the true errors before each decision and after the last; a delay of d reads what was d decisions ago.

    The play is taken up upwards at the start.
    """
    memory: Any = controller.start(TASK)
    shaft, knob, cents = play_deg / 2.0, 0.0, start_cents
    found = [cents]
    for number in range(steps):
        heard = hears(found[max(0, number - delay)], number)
        command, memory = controller.update(memory, reading(heard, number))
        if isinstance(command, Turn):
            shaft += command.angle_deg
            before, knob = knob, play(knob, shaft, play_deg / 2.0)
            cents = plant(cents, knob - before)
        found.append(cents)
    return found


def turns(controller: Controller, heard: list[float | None]) -> list[float]:
    """Return the angle that answers each reading, 0 for no turn."""
    memory: Any = controller.start(TASK)
    found = []
    for number, cents in enumerate(heard):
        command, memory = controller.update(memory, reading(cents, number))
        found.append(command.angle_deg if isinstance(command, Turn) else 0.0)
    return found
