"""From the record of the loop to corners: the instants between which every quantity changes one way."""

import math
from bisect import bisect_right
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from models.knob import Angles
from models.motors.base import current_a, torque_nm, voltage_v
from models.path import Stretch
from models.strings.tension import Pitch
from models.units import NANOSECONDS
from sim.loop import Record
from sim.trace import Course, Floats, Trace


class _Corner(NamedTuple):
    at_ns: int
    angles: Angles
    stretch: Stretch | None
    """The stretch under way just before; None at rest."""


def course(record: Record) -> Course:
    """Return what the measures of a run are made of."""
    found = _corners(record)
    tensions, (charge, energy) = _tensions(record, found), _drawn(record, found)
    return Course(
        outcome=record.outcome,
        tolerance_cents=record.rig.task.tolerance_cents,
        end_s=record.end_ns / NANOSECONDS,
        t_s=[corner.at_ns / NANOSECONDS for corner in found],
        error_cents=_errors(record, tensions, record.rig.task.pitch),
        relaxed_error_cents=_relaxed(record, found),
        moves_deg=_moves(found),
        highest_n=max(max(tensions), max(_behind(record, found))),
        breaking_n=record.rig.chain.string.breaking_n,
        energy_j=energy,
        charge_c=charge,
        plucks=sum(1 for at_ns, _ in record.instrument.plucks[record.rig.string] if at_ns <= record.end_ns),
        readings=len(record.readings),
        regrips=len(record.regrips_ns),
    )


def trace(record: Record) -> Trace:
    """Return all that happened in a run, as arrays."""
    found = _corners(record)
    tensions, (charge, energy) = _tensions(record, found), _drawn(record, found)
    loads = np.array([_load(corner) for corner in found])
    rig = record.rig
    return Trace(
        string=rig.string,
        target_hz=rig.chain.string.target_hz,
        tolerance_cents=rig.task.tolerance_cents,
        pitch=rig.task.pitch,
        outcome=record.outcome,
        detail=record.detail,
        end_s=record.end_ns / NANOSECONDS,
        t_s=_array([corner.at_ns / NANOSECONDS for corner in found]),
        shaft_deg=_array([corner.angles.shaft_deg for corner in found]),
        post_deg=_array([corner.angles.post_deg for corner in found]),
        tension_n=_array(tensions),
        behind_n=_array(_behind(record, found)),
        first_partial_cents=_array(_errors(record, tensions, "first-partial")),
        effective_cents=_array(_errors(record, tensions, "effective")),
        torque_nm=loads[:, 0],
        current_a=loads[:, 1],
        voltage_v=np.where(loads[:, 1] > 0, loads[:, 2], rig.machine.supply.source(0.0).voltage_v),
        breaking_n=rig.chain.string.breaking_n,
        relaxed_error_cents=_relaxed(record, found),
        energy_j=energy,
        charge_c=charge,
        plucks_s=tuple(
            at_ns / NANOSECONDS for at_ns, _ in record.instrument.plucks[rig.string] if at_ns <= record.end_ns
        ),
        readings=tuple(record.readings),
        commands=tuple((at_ns / NANOSECONDS, command) for at_ns, command in record.commands),
        regrips_s=tuple(at_ns / NANOSECONDS for at_ns in record.regrips_ns),
        moves_deg=tuple(_moves(found)),
    )


def _array(values: list[float]) -> Floats:
    return np.array(values, dtype=np.float64)


def _corners(record: Record) -> list[_Corner]:
    path = record.instrument.paths[record.rig.string]
    found = [_Corner(0, path.begins, None)]
    for stretch in path.stretches:
        if stretch.start_ns >= record.end_ns:
            break
        if stretch.start_ns != found[-1].at_ns:
            found.append(_Corner(stretch.start_ns, stretch.begins, None))
        if stretch.end_ns <= record.end_ns:
            found.append(_Corner(stretch.end_ns, stretch.ends, stretch))
        else:
            found.append(_Corner(record.end_ns, _at_end(record, stretch), stretch))
    found.append(_Corner(record.end_ns, found[-1].angles, None))
    return found if record.rig.chain.drift is None else sorted([*found, *_looks(record, found)], key=_at_ns)


def _looks(record: Record, found: list[_Corner]) -> list[_Corner]:
    """Return corners at the readings of a string that drifts between its moves."""
    instants = [round(reading.arrival_s * NANOSECONDS) for reading in record.readings]
    ends = [corner.at_ns for corner in found]
    resting = [found[bisect_right(ends, instant) - 1] for instant in instants]
    return [
        _Corner(instant, corner.angles, None)
        for instant, corner in zip(instants, resting, strict=True)
        if corner.stretch is not None or corner.at_ns in (0, record.end_ns)
    ]


def _at_ns(corner: _Corner) -> int:
    return corner.at_ns


def _at_end(record: Record, stretch: Stretch) -> Angles:
    return record.rig.chain.follow(stretch.begins, stretch.shaft_deg(record.end_ns))


def _tensions(record: Record, found: list[_Corner]) -> list[float]:
    """Return the tension of the speaking length at each corner; a string that broke keeps that at which it did."""
    return _drifted(record, found, [corner.angles.speaking_n for corner in found])


def _behind(record: Record, found: list[_Corner]) -> list[float]:
    """Return the same behind the nut, where the string is tightest while it is wound up."""
    return _drifted(record, found, [corner.angles.behind_n for corner in found])


def _drifted(record: Record, found: list[_Corner], tensions: list[float]) -> list[float]:
    """Return what tensions by winding have become by time, 0 where the string is slack."""
    if record.rig.chain.drift is not None:
        drifted, string = record.instrument.drifted_n, record.rig.string
        tensions = [drifted(string, tension, corner.at_ns) for tension, corner in zip(tensions, found, strict=True)]
    return [tension if tension > 0.0 else 0.0 for tension in tensions]


def _errors(record: Record, tensions: list[float], kind: Pitch) -> list[float]:
    """Return the error at each tension; nan where slack, and at the end when the string broke."""
    errors: list[float] = []
    for place, tension in enumerate(tensions):
        same = place > 0 and tension == tensions[place - 1]  # rest between two stretches
        errors.append(errors[-1] if same else record.rig.chain.string.error_cents(tension, kind))
    if record.instrument.broken(record.rig.string):
        errors[-1] = math.nan
    return errors


def _relaxed(record: Record, found: list[_Corner]) -> float:
    """Return the error in the end once vibration has evened out the tensions over nut and saddle."""
    if record.instrument.broken(record.rig.string):
        return math.nan
    relaxed = record.rig.chain.plucked(found[-1].angles, 1.0)
    (tension_n,) = _drifted(record, found[-1:], [relaxed.speaking_n])
    return record.rig.chain.string.error_cents(tension_n, record.rig.task.pitch)


def _moves(found: list[_Corner]) -> list[float]:
    return [corner.angles.shaft_deg - corner.stretch.begins.shaft_deg for corner in found if corner.stretch is not None]


def _load(corner: _Corner) -> tuple[float, float, float]:
    """Return torque, current and terminal voltage just before a corner; zeros at rest."""
    if corner.stretch is None:
        return 0.0, 0.0, 0.0
    piece, seconds = corner.stretch.piece, (corner.at_ns - corner.stretch.start_ns) / NANOSECONDS
    return torque_nm(piece, corner.angles.shaft_deg), current_a(piece, seconds), voltage_v(piece, seconds)


def _drawn(record: Record, found: list[_Corner]) -> tuple[float, float]:
    """Return charge in coulombs and energy in joules: of the motor turning and at rest, and of the unit."""
    machine, charge, energy = record.rig.machine, 0.0, 0.0
    source = machine.supply.source(0.0)
    for before, corner in pairwise(found):
        seconds = (corner.at_ns - before.at_ns) / NANOSECONDS
        if corner.stretch is None:
            motor_c = machine.motor.rest_current_a(source) * seconds
        else:
            source, motor_c = corner.stretch.piece.source, corner.stretch.charge_c
        drawn_c = motor_c + machine.unit_a * seconds
        charge, energy = charge + drawn_c, energy + source.voltage_v * drawn_c
    return charge, energy
