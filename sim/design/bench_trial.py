"""The bench on the plant: the same measurements carried out by hand on one simulated specimen.

A hand is an ideal motor: it turns the knob in small steps and stops as soon as something changes. What it reads is
held against the closed forms of ``predictions``.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from statistics import stdev
from typing import Any, Final

from models.drive import Drive, Machine, Stand
from models.instrument import Instrument
from models.knob import Angles
from models.messages import Load, Turn
from models.motors.base import Shaft, angle_deg, voltage_v
from models.motors.ideal import IdealMotor
from scenarios.schema import Scenario
from sim.build import Rig
from sim.design.bench import Bench
from sim.design.predictions import READINGS, TURNS_DEG, at_pitch_n, cents_between, grams
from sim.design.strung import taut
from sim.seeds import Chance, Streams, run_key

HAND: Final = IdealMotor(speed_limit_deg_s=90.0, resolution_deg=0.0)
STEP_DEG: Final = 0.1  # a small step of the hand: what it reads in degrees is right to a step
SLACK_STEP_DEG: Final = 0.5  # the same while the string is slack and the way is long
FLAT_N: Final = 0.97  # share of the target's tension from which the hand tunes up
SEEN: Final = 1e-9  # cents or degrees that count as a change
MOST_STEPS: Final = 5000  # small steps within which something must change
HALVINGS: Final = 40  # of the mass that a motor may lift
BEYOND_DEG: Final = 1e5  # surely to the end of a travel, whatever the firmware takes it for
FREE: Final = Load(0.0, 0.0, math.inf)
OCTAVE: Final = 600.0  # cents beyond which a reading is left out as a wrong one


class Hand:
    """A hand on the knob of one string, ears open. Starts at a tension, tightened last, nothing held."""

    def __init__(self, rig: Rig, tension_n: float) -> None:
        self._rig, self._now_ns = rig, 0
        begins = Stand(rig.chain.at(tension_n, HAND.rest().angle_deg), HAND.rest())
        self._plant = Instrument({rig.string: rig.chain}, {rig.string: begins.angles})
        machine = Machine(HAND, rig.machine.supply, brown_out_v=0.0, regrip=False)
        self._drive = Drive(self._plant, rig.string, machine, lambda number: (0.0, 0.0), begins)

    def turn(self, by_deg: float) -> None:
        """Turn what grips the knob."""
        self._now_ns = self._drive.command(Turn(by_deg), self._now_ns).at_ns + 1

    def turn_until(self, looked: Callable[[], float], step_deg: float) -> None:
        """Turn in small steps until what is looked at has changed.

        Raises ``RuntimeError`` when it never does.
        """
        before = looked()
        for _ in range(MOST_STEPS):
            self.turn(step_deg)
            if abs(looked() - before) > SEEN:
                return
        raise RuntimeError(f"nothing changed on {self._rig.string} in {MOST_STEPS} steps of {step_deg} deg")

    def knob_to(self, angle: float) -> None:
        """Turn until the knob stands at an angle, free play taken up."""
        at, half = self.angles(), self._rig.chain.half_slop_deg
        self.turn(angle + math.copysign(half, angle - at.knob_deg) - at.grip_deg - at.shaft_deg)

    def tune_up(self) -> None:
        """Tighten up to the target, half of the way that is left at a time and small steps in the end."""
        slope = self._rig.chain.cents_per_knob_deg(at_pitch_n(self._rig))
        while (flat := -self.cents()) > 0.0:
            self.turn(max(STEP_DEG, 0.5 * flat / slope))

    def pluck(self) -> None:
        """Pluck once: vibration relaxes what nut and saddle hold."""
        self._relax(self._rig.relaxation_share)

    def press(self) -> None:
        """Press the string down behind the nut until nothing is held any more."""
        self._relax(1.0)

    def _relax(self, share: float) -> None:
        self._drive.plucked(self._now_ns, share)
        self._now_ns += 1

    def cents(self) -> float:
        """Return the pitch re the target, as a tuner without error shows it."""
        return cents_between(self._rig.chain.string, at_pitch_n(self._rig), self.angles().speaking_n)

    def angles(self) -> Angles:
        """Return where the drive train stands."""
        path = self._plant.paths[self._rig.string]
        last = path.last_before(self._now_ns)
        return path.begins if last is None else last.ends

    def torque_nm(self) -> float:
        """Return the torque against which the last turn began its last stretch."""
        last = self._plant.paths[self._rig.string].last_before(self._now_ns)
        return 0.0 if last is None else last.piece.load.torque_nm


@dataclass(frozen=True, slots=True)
class Specimen:
    """One machine on the bench, and what is left to chance."""

    rig: Rig
    chance: Chance


def readings_of(scenario: Scenario, bench: Bench, specimen: int) -> dict[tuple[str, str], float]:
    """Return what the bench reads on one machine, by measurement and string."""
    streams, readings = Streams(bench.seed), dict[tuple[str, str], float]()
    machine = taut(scenario, scenario.strings, streams, specimen)
    for asked in bench.asked:
        for band in asked.bands:
            string = band.string or next(iter(machine))
            chance = Chance(streams, string, run_key(specimen, 0))
            reading = read(asked.measurement.name, machine[string], asked.setting, chance)
            readings[asked.measurement.name, band.string] = reading
    return readings


def read(name: str, rig: Rig, setting: float, chance: Chance) -> float:
    """Return the reading of a measurement by its name, on one specimen.

    Raises ``KeyError`` for an unknown name.
    """
    return TRIALS[name](Specimen(rig, chance), setting)


def _knob_turn_cents(on: Specimen, turn_deg: float) -> float:
    hand = Hand(on.rig, at_pitch_n(on.rig))
    mark, high = hand.angles().knob_deg, hand.cents()
    hand.knob_to(mark - 1.1 * turn_deg)
    hand.knob_to(mark - turn_deg)
    hand.press()
    return high - hand.cents()


def _wiggle_deg(on: Specimen, _: float) -> float:
    hand = Hand(on.rig, at_pitch_n(on.rig))
    touched = hand.angles()
    hand.turn_until(lambda: hand.angles().knob_deg, -STEP_DEG)
    return touched.shaft_deg - hand.angles().shaft_deg


def _weight_g(direction: int) -> Callable[[Specimen, float], float]:
    """Return the trial of the weight that just turns the knob in a direction."""

    def weighed_g(on: Specimen, arm_mm: float) -> float:
        hand = Hand(on.rig, at_pitch_n(on.rig))
        hand.turn_until(lambda: hand.angles().knob_deg, direction * STEP_DEG)
        return grams(hand.torque_nm(), arm_mm)

    return weighed_g


def _reversal_deg(on: Specimen, _: float) -> float:
    hand = Hand(on.rig, FLAT_N * at_pitch_n(on.rig))
    hand.tune_up()
    hand.pluck()
    mark = hand.angles().knob_deg
    hand.turn_until(hand.cents, -STEP_DEG)
    return mark - hand.angles().knob_deg


def _pressing_cents(on: Specimen, _: float) -> float:
    hand = Hand(on.rig, FLAT_N * at_pitch_n(on.rig))
    hand.tune_up()
    hand.pluck()
    plucked = hand.cents()
    hand.press()
    return hand.cents() - plucked


def _slack_wiggle_deg(on: Specimen, _: float) -> float:
    hand = Hand(on.rig, 0.0)
    hand.turn_until(lambda: hand.angles().post_deg, -SLACK_STEP_DEG)
    touched = hand.angles().knob_deg
    hand.turn_until(lambda: hand.angles().post_deg, SLACK_STEP_DEG)
    return hand.angles().knob_deg - touched


def _lifting_g(on: Specimen, arm_mm: float) -> float:
    """Halve the range between a load that is lifted and one that is not."""
    low_nm, high_nm = 0.0, 1.0
    while _lifts(on.rig, high_nm):
        high_nm *= 2.0
    for _ in range(HALVINGS):
        middle_nm = (low_nm + high_nm) / 2.0
        low_nm, high_nm = (middle_nm, high_nm) if _lifts(on.rig, middle_nm) else (low_nm, middle_nm)
    return grams(low_nm, arm_mm)


def _lifts(rig: Rig, torque_nm: float) -> bool:
    """Return whether the motor moves a load from rest, to the side to which it pushes harder."""
    return any(_asked(rig, side * 30.0, Load(torque_nm, 0.0, math.inf)).turned_deg != 0.0 for side in (1, -1))


def _travel_deg(on: Specimen, _: float) -> float:
    ends = [_asked(on.rig, way, FREE).turned_deg for way in (BEYOND_DEG, -BEYOND_DEG)]
    return ends[0] - ends[1]


def _motor_s(on: Specimen, _: float) -> float:
    motor = on.rig.machine.motor
    if math.isinf(motor.stroke_deg()):
        asked = _asked(on.rig, TURNS_DEG, FREE)
        return asked.seconds * TURNS_DEG / abs(asked.turned_deg)
    return _asked(on.rig, BEYOND_DEG, FREE, motor.regripped(1)).seconds


def _open_v(on: Specimen, _: float) -> float:
    return on.rig.machine.supply.source(0.0).voltage_v


def _stalled_v(on: Specimen, _: float) -> float:
    """Turn against a stop that gives way by a degree, to the side to which the motor pushes harder."""
    source = on.rig.machine.supply.source(0.0)
    stop = Load(0.0, 2.0 * on.rig.machine.motor.stall_torque_nm(source), math.inf)
    return min(_asked(on.rig, side * 60.0, stop).volts for side in (1, -1))


def _ear_cents(on: Specimen, _: float) -> float:
    ear: Any = on.rig.ear
    target_hz = on.rig.chain.string.target_hz
    since_s = ear.skip_s + ear.window_s / 2.0
    heard = [
        ear.estimate(target_hz, 0.0, since_s, on.chance.reading(pluck, 0)).pitch_hz for pluck in range(3 * READINGS)
    ]
    found = [1200.0 * math.log2(pitch / target_hz) for pitch in heard if pitch is not None]
    return stdev([cents for cents in found if abs(cents) < OCTAVE][:READINGS])


@dataclass(frozen=True, slots=True)
class Turned:
    """What a motor did when it was asked for a turn."""

    turned_deg: float
    seconds: float
    volts: float
    """At the supply's terminals, in the end."""


def _asked(rig: Rig, angle: float, load: Load, shaft: Shaft | None = None) -> Turned:
    """Return what the motor does with a turn against one load, from rest or from where its shaft is."""
    motor, source = rig.machine.motor, rig.machine.supply.source(0.0)
    shaft = motor.rest() if shaft is None else shaft
    motion = motor.plan(Turn(angle), motor.aim(Turn(angle), shaft), lambda direction: load, source)
    end = shaft.angle_deg
    volts = source.voltage_v
    for piece in motion.pieces:
        end, volts = angle_deg(piece, piece.duration_s), voltage_v(piece, piece.duration_s)
    return Turned(end - shaft.angle_deg, sum(piece.duration_s for piece in motion.pieces), volts)


TRIALS: Final[Mapping[str, Callable[[Specimen, float], float]]] = {
    "knob-turn": _knob_turn_cents,
    "coupler-wiggle": _wiggle_deg,
    "tightening-weight": _weight_g(1),
    "lifting-weight": _lifting_g,
    "loosening-weight": _weight_g(-1),
    "reversal": _reversal_deg,
    "pressing": _pressing_cents,
    "supply-open": _open_v,
    "ear-spread": _ear_cents,
    "motor-time": _motor_s,
    "slack-wiggle": _slack_wiggle_deg,
    "supply-stalled": _stalled_v,
    "motor-travel": _travel_deg,
}
