"""Test vectors: readings in, commands out, from the controller with its constants as firmware has them."""

import random
from collections.abc import Iterator
from typing import Final, NamedTuple

from models.messages import Command, Done, GiveUp, Listen, Pluck, Reading, Spin, Stop, Task, Turn
from models.units import shifted
from sim.export.constants import Constants, rounded_half_away

ANSWERS: Final[dict[type, int]] = {Listen: 0, Turn: 1, Spin: 2, Stop: 3, Pluck: 4, Done: 5, GiveUp: 6}
"""Code of each command."""
LONGEST: Final = 40  # readings of a sequence
Heard = tuple[bool, bool, int]
"""Whether a pitch was heard, whether the motor turned, and the error in millicents."""


class Vector(NamedTuple):
    """One reading and the command that answers it."""

    start: int
    """1 where the controller is switched on before."""
    heard: int
    """Whether a pitch was heard."""
    moving: int
    """Whether the motor turned meanwhile."""
    error_millicents: int
    answer: int
    """Code of the command."""
    amount: int
    """Millidegrees of a turn, or millidegrees a second of a spin; else 0."""


def vectors(constants: Constants, task: Task, count: int, seed: int) -> list[Vector]:
    """Return ``count`` vectors in sequences of a lively tuning, edges of all bands among them."""
    chance, found = random.Random(f"{seed} {constants.string}"), list[Vector]()
    edges = [each.value for each in constants.numbers if each.name.endswith("_millicents")]
    while len(found) < count:
        found += _sequence(constants, task, list(_errors(chance, edges)))
    return found[:count]


def _errors(chance: random.Random, edges: list[int]) -> Iterator[Heard]:
    """Yield the readings of one sequence."""
    size, missed = chance.choice((300, 3_000, 30_000, 300_000, 1_200_000)), chance.choice((0.0, 0.1, 0.7))
    for _ in range(chance.randint(1, LONGEST)):
        near = chance.choice(edges) + chance.randint(-1, 1) if edges and chance.random() < 0.2 else None
        error = chance.randint(-size, size) if near is None else chance.choice((-1, 1)) * min(near, 2_400_000)
        yield chance.random() >= missed, chance.random() < 0.1, error


def _sequence(constants: Constants, task: Task, readings: list[Heard]) -> list[Vector]:
    controller = constants.plan.controller
    target_hz = next(each.value for each in constants.numbers if each.name == "target_millihz") / 1000.0
    memory, found = controller.start(task), list[Vector]()
    for number, (heard, moving, error) in enumerate(readings):
        cents = error / 1000.0
        hertz = shifted(target_hz, cents) if heard else None
        reading = Reading(hertz, cents if heard else None, float(heard), number, number + 0.1, moving, number + 1)
        command, memory = controller.update(memory, reading)
        found.append(Vector(int(number == 0), int(heard), int(moving), error if heard else 0, *_coded(command)))
        if isinstance(command, Done | GiveUp):
            break
    return found


def _coded(command: Command) -> tuple[int, int]:
    amount = getattr(command, "angle_deg", getattr(command, "speed_deg_s", 0.0))
    return ANSWERS[type(command)], rounded_half_away(amount * 1000.0)
