"""Every registered motor keeps the contract of ``models.motors.base``, with any parameters that it allows."""

import math
from typing import Any, NamedTuple, get_args

import pytest
from drawn import components
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pytest import approx

from models.component import resolve
from models.messages import Ending, Load, Motion, Source, Spin, Turn
from models.motors import MOTORS
from models.motors.base import Shaft, angle_deg, current_a, energy_j, seconds_to_turn, torque_nm, voltage_v

ANGLES = st.floats(-400.0, 400.0).map(lambda angle: round(angle, 3))
SOURCES = st.builds(Source, st.floats(4.0, 8.0), st.floats(0.0, 0.5))
LONG_S = 9e4  # longer than any run
FREE = st.sampled_from([0.0, 1e-3, 0.02, 0.05, 0.2, 0.5, 2.0])  # share of the stall torque at the start
SLOPES = st.sampled_from([0.0, 1e-4, 1e-3, 2e-2])  # share of the stall torque a degree


def sold(motor: Any) -> bool:
    """Return whether a data sheet could say so: more current at stall than without load."""
    return getattr(motor, "run_current_a", 0.0) <= getattr(motor, "stall_current_a", math.inf)


class Case(NamedTuple):
    """A motor that was given a command, and what it meets."""

    motor: Any
    command: Turn | Spin
    before: Shaft
    aimed: Shaft
    load: Any
    source: Source

    def plan(self, shaft: Shaft | None = None, load: Any = None) -> Motion:
        return self.motor.plan(self.command, shaft or self.aimed, load or self.load, self.source)


FAR_DEG = 1e6  # more than any travel, whatever the firmware takes it for
ANY_ROOM = st.just(FAR_DEG)


@st.composite
def cases(draw: st.DrawFn, name: str, room: st.SearchStrategy[float] = ANY_ROOM) -> Case:
    """Return a motor with a command taken, a load line in both directions, and a supply."""
    motor, source = draw(components(resolve(MOTORS, name)).filter(sold)), draw(SOURCES)
    commands = [kind(draw(ANGLES.filter(bool))) for kind in sorted(motor.accepts, key=repr)]
    command = draw(st.sampled_from(commands))
    stall = motor.stall_torque_nm(source)
    assume(stall > 0.0)  # a supply that cannot even feed the current without load moves nothing
    unit = stall if math.isfinite(stall) else 1.0
    line = Load(draw(FREE) * unit, draw(SLOPES) * unit, draw(room))
    before = motor.rest()
    return Case(motor, command, before, motor.aim(command, before), lambda direction: line, source)


def end_deg(motion: Motion, shaft: Shaft) -> float:
    """Return where the motion ends."""
    if not motion.pieces:
        return shaft.angle_deg
    last = motion.pieces[-1]
    return angle_deg(last, last.duration_s)


def standing(piece: Any) -> bool:
    """Return whether the shaft stands while the command goes on: slack of a field, or a rotor that fell out of it."""
    return bool(piece.speed_deg_s == piece.final_deg_s == 0.0)


def drifts(case: Case) -> bool:
    """Return whether a slow spin may turn the wrong way, because the driver does not know where neutral is."""
    return isinstance(case.command, Spin) and getattr(case.motor, "neutral_error_us", 0.0) != 0.0


def reach_deg(shaft: Shaft) -> float:
    """Return how far the motor goes at most: to where it holds, and what a timed command drives on.

    A motor that is driven for a time, at a speed that it finds by itself, may go any way.
    """
    if shaft.drive_s > 0.0 and shaft.speed_deg_s == 0.0:
        return math.inf
    return abs(shaft.held_deg - shaft.angle_deg) + abs(shaft.speed_deg_s) * shaft.drive_s


def heavy(motion: Motion) -> bool:
    """Return whether the shaft has inertia: it may run on beyond a stall, and its load is taken piece by piece."""
    return any(piece.surge_a for piece in motion.pieces)


def state_after(motor: Any, shaft: Shaft, motion: Motion) -> Shaft:
    """Return the state at the end of the motion."""
    for piece in motion.pieces:
        shaft = motor.after(shaft, piece, piece.duration_s)
    return shaft


def every_motor(test: Any) -> Any:
    """Run a test for each registered motor, with ``data`` to draw from."""
    return pytest.mark.parametrize("name", MOTORS)(settings(max_examples=40)(given(data=st.data())(test)))


@pytest.mark.parametrize("name", MOTORS)
def test_accepts_only_known_commands(name: str) -> None:
    accepts = resolve(MOTORS, name).accepts
    assert accepts
    assert accepts <= {Turn, Spin}


@every_motor
def test_aiming_and_planning_move_nothing(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    assert case.aimed.angle_deg == case.before.angle_deg
    assert case.before == case.motor.rest()
    assert case.plan() == case.plan()
    assert case.motor.lead_s() >= 0.0


@every_motor
def test_a_spin_leaves_no_turn_behind(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    if Spin not in case.motor.accepts:
        return
    spun = case.motor.aim(Spin(30.0), case.aimed)
    assert spun.held_deg == case.aimed.angle_deg


@every_motor
def test_pieces_join_and_run_in_the_asked_direction(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    motion, at = case.plan(), case.aimed.angle_deg
    way = case.aimed.held_deg - case.aimed.angle_deg
    asked = case.command.speed_deg_s if isinstance(case.command, Spin) else way or case.command.angle_deg
    assert motion.ending in get_args(Ending)
    for piece in motion.pieces:
        assert piece.start_deg == approx(at, abs=1e-9)
        assert piece.duration_s > 0.0
        assert standing(piece) or (piece.speed_deg_s or piece.final_deg_s) * asked > 0.0 or drifts(case)
        at = angle_deg(piece, piece.duration_s)


@every_motor
def test_a_turn_ends_where_it_was_asked_or_says_why_not(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    motion, end = case.plan(), end_deg(case.plan(), case.aimed)
    if isinstance(case.command, Spin):
        assert motion.ending in ("next event", "stalled") or not motion.pieces or seconds(motion.pieces) >= LONG_S
        return
    assert abs(end - case.aimed.angle_deg) <= reach_deg(case.aimed) * (1 + 1e-9) + 1e-9
    assert (motion.ending == "travel end") <= (case.aimed.left_deg != 0.0)


@every_motor
def test_no_motion_goes_further_than_the_room(name: str, data: st.DataObject) -> None:
    room = st.floats(0.01, 30.0)
    case = data.draw(cases(name, room))
    turned = abs(end_deg(case.plan(), case.aimed) - case.aimed.angle_deg)
    assert turned <= case.load(1).room_deg * (1 + 1e-9)
    if case.plan().ending == "next event" and not standing(case.plan().pieces[-1]):
        assert turned == approx(case.load(1).room_deg, rel=1e-9)


@every_motor
def test_a_load_line_cut_in_two_ends_at_the_same_angle(name: str, data: st.DataObject) -> None:
    case, share = data.draw(cases(name, st.floats(1.0, 300.0))), data.draw(st.floats(0.05, 0.95))
    whole, line = case.plan(), case.load(1)
    end = end_deg(whole, case.aimed)
    assume(end != case.aimed.angle_deg)
    cut = share * abs(end - case.aimed.angle_deg)
    first = case.plan(load=lambda direction: line._replace(room_deg=cut))
    assert first.ending == "next event"
    there = state_after(case.motor, case.aimed, first)
    rest = Load(line.torque_nm + line.slope_nm_per_deg * cut, line.slope_nm_per_deg, line.room_deg - cut)
    second = case.plan(there, lambda direction: rest)
    if heavy(whole) and line.slope_nm_per_deg and "stalled" in (whole.ending, second.ending):
        return  # a cut shifts the pieces, and so the place where the last of them stalls
    assert second.ending == whole.ending
    rough = heavy(whole) and line.slope_nm_per_deg  # the load changes by up to 2 % of the stall torque within a piece
    if whole.ending != "stalled":  # the exponential approach to a stall is cut at a share of what is left
        assert end_deg(second, there) == approx(end, abs=(2e-2 if rough else 1e-9) * max(1.0, abs(end)))
        assert seconds((*first.pieces, *second.pieces)) == approx(seconds(whole.pieces), rel=0.1 if rough else 1e-6)


def seconds(pieces: Any) -> float:
    return sum(piece.duration_s for piece in pieces)


@every_motor
def test_torque_stays_below_stall_and_energy_is_drawn(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name, st.floats(1.0, 300.0)))
    stall, drawn, motion = case.motor.stall_torque_nm(case.source), 0.0, case.plan()
    for piece in motion.pieces:
        end = angle_deg(piece, piece.duration_s)
        slow = isinstance(case.command, Spin) and abs(piece.speed_deg_s) < case.motor.speed_deg_s(0.0, case.source)
        carried = slow or heavy(motion)  # some motors are stronger when they spin slowly, some have inertia
        assert carried or torque_nm(piece, end) <= stall * (1 + 1e-9)
        assert voltage_v(piece, piece.duration_s) <= case.source.voltage_v
        halves = [energy_j(piece, piece.duration_s * share) for share in (0.5, 1.0)]
        assert 0.0 <= halves[0] <= halves[1]
        drawn += halves[1]
    assert drawn >= 0.0


@every_motor
def test_energy_is_the_integral_of_voltage_times_current(name: str, data: st.DataObject) -> None:
    """Simpson's rule on 64 parts against the closed form (independent arithmetic)."""
    case = data.draw(cases(name, st.floats(1.0, 300.0)))
    for piece in case.plan().pieces:
        last_s = min(piece.duration_s, 2.0 / piece.rate_per_s if piece.rate_per_s else math.inf)
        powers = [piece.source.voltage_v * current_a(piece, last_s * index / 64) for index in range(65)]
        weights = [1, *[4, 2] * 31, 4, 1]
        simpson = sum(w * p for w, p in zip(weights, powers, strict=True)) * last_s / 192
        assert energy_j(piece, last_s) == approx(simpson, rel=1e-6, abs=1e-12)


@every_motor
def test_speed_falls_with_torque_and_is_zero_at_stall(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    stall = case.motor.stall_torque_nm(case.source)
    if math.isfinite(stall):
        speeds = [case.motor.speed_deg_s(share * stall, case.source) for share in (0.0, 0.3, 0.9, 1.0, 2.0)]
        assert speeds == sorted(speeds, reverse=True)
        assert speeds[0] > 0.0
        assert speeds[3:] == [0.0, 0.0]
    else:
        assert case.motor.speed_deg_s(1e9, case.source) > 0.0


@every_motor
def test_too_much_load_stalls_without_moving(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    stall = case.motor.stall_torque_nm(case.source)
    if case.aimed.held_deg == case.aimed.angle_deg or not math.isfinite(stall):
        return
    motion = case.plan(load=lambda direction: Load(1.01 * stall, 0.0, 10.0))
    assert (motion.pieces, motion.ending) == ((), "stalled")


@every_motor
def test_a_resting_shaft_does_not_start_above_its_starting_torque(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    starting, stall = case.motor.starting_torque_nm(case.source), case.motor.stall_torque_nm(case.source)
    assert 0.0 < starting <= stall
    if math.isfinite(starting):
        beyond = Load(1.01 * starting, 0.0, 1e6)
        slow = isinstance(case.command, Spin)  # some motors are stronger when they spin slowly
        assert slow or all(standing(piece) for piece in case.plan(load=lambda direction: beyond).pieces)


@every_motor
def test_resting_takes_no_more_than_turning(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    at_rest = case.motor.rest_current_a(case.source)
    assert at_rest >= 0.0
    if at_rest:
        assert case.motor.hold
        turning = [current_a(piece, 0.0) for piece in case.plan().pieces]
        assert turning == [approx(at_rest)] * len(turning)


@every_motor
def test_a_regrip_leaves_a_whole_stroke(name: str, data: st.DataObject) -> None:
    case = data.draw(cases(name))
    stroke = case.motor.stroke_deg()
    assert stroke > 0.0
    if not math.isfinite(stroke) or Turn not in case.motor.accepts:
        return
    for direction in (1, -1):
        ready = case.motor.regripped(direction)
        assert ready.angle_deg == ready.held_deg == (0.0 if direction > 0 else stroke)
        beyond = case.motor.aim(Turn(direction * FAR_DEG), ready)
        whole = FAR_DEG - abs(beyond.left_deg)  # in degrees as the firmware believes them
        assert whole > 0.0 and math.copysign(1.0, beyond.left_deg) == direction
        assert case.motor.aim(Turn(direction * 0.999 * whole), ready).left_deg == 0.0


@given(speed=st.floats(0.1, 1e3), rate=st.just(0.0) | st.floats(1e-9, 10.0), seconds_turned=st.floats(1e-3, 2.0))
def test_time_to_turn_is_the_inverse_of_the_angle(speed: float, rate: float, seconds_turned: float) -> None:
    angle = speed * (-math.expm1(-rate * seconds_turned) / rate if rate else seconds_turned)
    assume(rate * seconds_turned < 7.0)
    assert seconds_to_turn(speed, rate, angle) == approx(seconds_turned, rel=1e-6)
