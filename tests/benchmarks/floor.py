"""The unavoidable pieces of runs: bare SimPy events, the random numbers, the arithmetic of models and laws."""

import math

import numpy as np
import simpy

from controllers.base import Controller
from models.hearing.acceptance import Accepting
from models.hearing.base import EarDraws, Heard
from models.messages import Turn
from models.motors.base import Shaft, energy_j
from sim.corners import course
from sim.loop import Record
from sim.metrics import measured


class Floor:
    """Does what given runs cannot do without, and nothing else."""

    def __init__(self, records: list[Record], law: Controller) -> None:
        self._records, self._law = records, law
        self._courses = [course(record) for record in records]
        self._readings = [len(record.readings) for record in records]
        self._bits = np.random.Philox(key=1)
        self._generator = np.random.Generator(self._bits)
        self._state = self._bits.state

    def events(self) -> None:
        """A fresh environment, a process, and one timeout a reading, for each run."""
        for count in self._readings:
            environment = simpy.Environment()
            environment.run(until=environment.process(self._chain(environment, count)))

    @staticmethod
    def _chain(environment: simpy.Environment, count: int):
        for _ in range(count):
            yield environment.timeout(1_000)

    def draws(self) -> None:
        """Move one generator to four streams a run and draw what its plucks need."""
        for _ in self._records:
            for stream in range(4):
                self._state["state"]["counter"][:] = (0, 0, 1, stream)
                self._bits.state = self._state
                if stream == 0:
                    self._generator.random()
                elif stream == 1:
                    self._generator.standard_normal()
                elif stream == 2:
                    self._generator.standard_normal((32, 4)).tolist()
                else:
                    self._generator.random((32, 2)).tolist()

    def arithmetic(self) -> None:
        """Evaluate ear, acceptance, law and motion of every reading with the models' own functions, without a loop."""
        for record, seen in zip(self._records, self._courses, strict=True):
            self._one(record)
            measured(seen)

    def _one(self, record: Record) -> None:
        rig = record.rig
        string, path = rig.chain.string, record.instrument.paths[rig.string]
        source = rig.machine.supply.source(0.0)
        accepting = Accepting(rig.acceptance, string.target_hz)
        for _ in record.readings:
            pitch = string.first_partial_hz(string.tension_n(0.004))
            math.log2(pitch / string.target_hz)
            math.exp(0.3 * 0.5)
            accepting.take(Heard(rig.ear.estimate(pitch, -3.0, 0.2, _DRAWS), False, 0.5, 0.0), 0)
        memory = self._law.start(rig.task)
        for reading in record.readings:
            _, memory = self._law.update(memory, reading)
        shaft = rig.machine.motor.rest()
        for stretch in path.stretches:
            rig.machine.motor.aim(_TURN, shaft)
            load = rig.chain.load(stretch.begins, 1 if stretch.piece.speed_deg_s > 0 else -1)
            rig.machine.motor.plan(_TURN, _moved(shaft), lambda direction, load=load: load, source)
            ends = rig.chain.follow(stretch.begins, stretch.ends.shaft_deg)
            math.log2(string.first_partial_hz(ends.speaking_n) / string.target_hz)
            energy_j(stretch.piece, stretch.piece.duration_s)


_DRAWS = EarDraws(0.1, 0.2, 0.3, 0.5, 0.5)
_TURN = Turn(10.0)


def _moved(shaft: Shaft) -> Shaft:
    return Shaft(shaft.angle_deg, shaft.asked_deg + 10.0, shaft.held_deg + 10.0)
