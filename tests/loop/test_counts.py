"""How much work a run is: plans and stretches are counted, so that slips and pieces cost no loop of their own."""

import math
from itertools import pairwise
from typing import Any

from models.coupler import Twist
from models.drive import Drive, Machine, Stand
from models.drivetrain import chain
from models.head.nut import Friction, slip_ratio
from models.instrument import Instrument
from models.messages import Turn
from models.motors.ideal import IdealMotor
from models.strings.tension import strung
from models.units import midi_hz
from scenarios.load import load_text
from sim.evaluate import Bench
from tests.benchmarks.drives import ITEMS, REAL
from tests.loop.rigs import E4, HEAD, SUPPLY
from tests.loop.rigs import Bench as Feed

MANY = Friction(120e3, 16e3, 0.0, 1.02, 1.0199, 1.0, 1.0)
"""A nut that lets go every hundredth of a cent."""


class Counting:
    """A motor that counts its plans."""

    def __init__(self, motor: Any) -> None:
        self._motor, self.plans = motor, 0

    def plan(self, *given: Any) -> Any:
        self.plans += 1
        return self._motor.plan(*given)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._motor, name)


def test_a_thousand_slips_of_the_nut_are_one_series_and_not_a_thousand_plans() -> None:
    train = chain(strung(E4, 3.0, midi_hz(64)), HEAD.mechanism(), Twist(2.0), MANY)
    motor = Counting(IdealMotor(speed_limit_deg_s=100.0, resolution_deg=0.0))
    begins = train.at(60.0, 0.0)
    instrument = Instrument({"E4": train}, {"E4": begins})
    machine = Machine(motor, Feed(SUPPLY), 0.0, True)
    drive = Drive(instrument, "E4", machine, lambda grip: (1.0, 0.5), Stand(begins, motor.rest()))
    drive.command(Turn(150.0), 0)
    ends = instrument.paths["E4"].stretches[-1].ends
    slips = math.log(ends.speaking_n / 60.0) / math.log(slip_ratio(MANY))
    assert slips > 1000
    assert motor.plans <= 3
    assert len(instrument.paths["E4"].stretches) <= 3


def test_a_real_drive_plans_a_few_stretches_a_command() -> None:
    """Slop, hold, slip, run-out: at most 12 in one command, and 4 on average, plucks aside."""
    bench = Bench((load_text(REAL, "rig.toml"),), 1)
    turned = commands = 0
    for item in ITEMS[::4]:
        record = bench.record(item)
        stretches = [each for each in record.instrument.paths[record.rig.string].stretches if each.piece.duration_s]
        asked_ns = [at_ns for at_ns, command in record.commands if isinstance(command, Turn)]
        for since, until in pairwise([*asked_ns, record.end_ns]):
            assert sum(since <= each.start_ns < until for each in stretches) <= 12
        turned, commands = turned + len(stretches), commands + len(asked_ns)
    assert 0 < turned <= 4 * commands
