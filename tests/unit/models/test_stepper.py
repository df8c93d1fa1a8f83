"""Steppers: lag, microsteps, lost cycles, supply; rows of independent arithmetic and published arguments."""

import math
from functools import partial
from typing import Any, NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx

from models.messages import STOP, Load, Motion, Source, Spin, Turn
from models.motors.base import Shaft, charge_c, voltage_v
from models.motors.rotor import Rotor
from models.motors.stepper import Stepper
from scenarios.library import component_class, part
from scenarios.schema import Part

BENCH = Source(12.0, 0.0)
TEETH = 283712 / 4455  # published tooth counts of the small geared stepper
PLAIN: dict[str, Any] = {
    "steps_per_turn": 200, "gear_ratio": 1.0, "believed_ratio": 1.0, "gear_efficiency": 1.0, "microsteps": 16,
    "step_rate_hz": 200.0, "pull_in_hz": 500.0, "corner_hz": 600.0, "holding_torque_nm": 0.4, "pull_out_share": 0.7,
    "detent_share": 0.04, "winding_ohm": 2.0, "rated_current_a": 1.5, "driver": "chopper", "hold": True,
    "output_slop_deg": 0.0,
}  # fmt: skip
GEARED = {"steps_per_turn": 32, "gear_ratio": TEETH, "believed_ratio": 64.0, "microsteps": 2}


def plain(**changes: Any) -> Stepper:
    return Stepper(**(PLAIN | changes))


class Carried(NamedTuple):
    """Where a command ended, how long it took, and what the motor said in the end."""

    shaft: Shaft
    seconds: float
    ending: str


def carried(motor: Stepper, command: Any, shaft: Shaft, load: Any) -> Carried:
    """Carry out a command against ``load(angle, direction)``, planning on as the plant does."""
    shaft, lasted, motion = motor.aim(command, shaft), 0.0, Motion((), "next event")
    while motion.ending == "next event":
        motion = motor.plan(command, shaft, partial(load, shaft.angle_deg), BENCH)
        for piece in motion.pieces:
            shaft, lasted = motor.after(shaft, piece, piece.duration_s), lasted + piece.duration_s
    return Carried(shaft, lasted, motion.ending)


def friction(up_nm: float, down_nm: float | None = None) -> Any:
    """Return a load that is the same everywhere, tightening and loosening."""
    lines = {1: Load(up_nm, 0.0, math.inf), -1: Load(up_nm if down_nm is None else down_nm, 0.0, math.inf)}
    return lambda at, direction: lines[direction]


def spring(nm_per_deg: float, friction_nm: float = 0.05) -> Any:
    """Return a spring behind friction that locks: it resists tightening, and never drives the shaft."""

    def load(at: float, direction: int) -> Load:
        slope = nm_per_deg if direction > 0 and at >= 0.0 else 0.0
        return Load(friction_nm + slope * at, slope, math.inf)

    return load


def cycle_deg(motor: Stepper) -> float:
    return 4 * 360.0 / (motor.steps_per_turn * motor.gear_ratio)


def lost_deg(motor: Stepper, shaft: Shaft) -> float:
    """Return how far the field is from where the firmware believes that it is."""
    return shaft.asked_deg * motor.believed_ratio / motor.gear_ratio - shaft.held_deg


def test_row_stp1() -> None:
    """4096 half steps, "one turn" of a 64 gear, on 283712/4455: 361.787 deg; slip quantum 0.706614 deg."""
    motor = plain(**GEARED)
    end = carried(motor, Turn(360.0), motor.rest(), friction(0.0))
    assert end.shaft.angle_deg == approx(361.787, abs=5e-4)
    assert end.seconds == approx(4096 / 2 / 200.0)
    assert cycle_deg(motor) == approx(0.706614, abs=5e-7)
    assert motor.after(motor.rest()._replace(held_deg=0.7), still(motor), 0.0).held_deg == approx(-0.006614, abs=5e-7)


def still(motor: Stepper) -> Any:
    """Return the stand of a motor that fell out."""
    return motor.plan(Turn(9.0), motor.aim(Turn(9.0), motor.rest()), lambda way: Load(9e9, 0.0, 9.0), BENCH).pieces[0]


def test_row_stp2() -> None:
    """0.4 N m, load 0.05: lag 0.143615 deg; slip quantum 7.2 deg (independent arithmetic)."""
    motor = plain()
    end = carried(motor, Turn(90.0), motor.rest(), friction(0.05))
    assert 90.0 - end.shaft.angle_deg == approx(0.143615, abs=5e-7)
    assert end.shaft.held_deg == approx(90.0, abs=1e-9)
    assert cycle_deg(motor) == approx(7.2)


@pytest.mark.parametrize(("microsteps", "share"), [(2, 0.7071), (16, 0.0980), (256, 0.0061)])
def test_incremental_torque_of_a_microstep(microsteps: int, share: float) -> None:
    """70.7, 9.80 and 0.61 % of the holding torque (a driver maker's published argument), to their printed digits."""
    motor = plain(microsteps=microsteps)
    step = Turn(1.8 / microsteps)
    weaker, stronger = (friction((share + error) * 0.4) for error in (-6e-5, 6e-5))
    assert carried(motor, step, motor.rest(), weaker).shaft.angle_deg > 0.0
    assert carried(motor, step, motor.rest(), stronger).shaft.angle_deg == 0.0


def test_dead_microsteps_against_friction() -> None:
    """Friction of 5 % of the holding torque eats 0.5095 microsteps at n = 16 (independent arithmetic)."""
    motor, step = plain(), 1.8 / 16
    first = carried(motor, Turn(step), motor.rest(), friction(0.02))
    assert first.shaft.angle_deg / step == approx(1 - 0.5095, abs=5e-5)
    back = carried(motor, Turn(-step), first.shaft, friction(0.02))
    assert (back.shaft.angle_deg, back.ending) == (first.shaft.angle_deg, "reached")
    assert back.seconds == approx(step / 360.0)
    again = carried(motor, Turn(-step), back.shaft, friction(0.02))
    assert (first.shaft.angle_deg - again.shaft.angle_deg) / step == approx(2 - 2 * 0.5095, abs=1e-4)


@given(turn=st.floats(0.5, 300.0), nm_per_deg=st.floats(0.005, 0.2), geared=st.booleans())
def test_lost_steps_come_in_whole_cycles_and_nobody_is_told(turn: float, nm_per_deg: float, geared: bool) -> None:
    motor = plain(**(GEARED | {"gear_efficiency": 0.12}) if geared else {})
    end = carried(motor, Turn(turn), motor.rest(), spring(nm_per_deg))
    step = 360.0 / (motor.steps_per_turn * motor.microsteps * motor.believed_ratio)
    lost = lost_deg(motor, end.shaft) / cycle_deg(motor)
    assert lost == approx(round(lost), abs=1e-6)
    assert end.ending == "reached"
    assert end.shaft.asked_deg == approx(turn, abs=step / 2 * (1 + 1e-9))
    assert abs(end.shaft.held_deg - end.shaft.angle_deg) <= cycle_deg(motor) / 2 * (1 + 1e-9)


def test_a_rotor_that_fell_out_stands_for_the_rest_of_the_time() -> None:
    """Pull-out 0.28 N m is met after 23 of 90 degrees; the field runs on for the whole quarter of a second."""
    motor = plain()
    end = carried(motor, Turn(90.0), motor.rest(), spring(0.01))
    assert end.shaft.angle_deg == approx(23.0, abs=7.2 / 2)
    assert 0.25 <= end.seconds < 0.25 + 3.6 / 360.0
    assert end.shaft.asked_deg == 90.0
    assert lost_deg(motor, end.shaft) == approx(9 * 7.2)


def test_a_rotor_comes_back_to_a_field_behind_it() -> None:
    """Falls out at 23 deg; 85.8375 deg less nine cycles is 21.0375 deg: back, to the lag of 0.05 N m above it."""
    motor = plain()
    end = carried(motor, Turn(85.8), motor.rest(), spring(0.01))
    assert end.shaft.held_deg == approx(21.0375)
    assert end.shaft.angle_deg == approx(21.0375 + 0.143615, abs=1e-6)


def test_small_turns_against_a_wall_are_lost_as_large_ones_are() -> None:
    """The rotor stands until the field is half a cycle ahead: then it fits the field before."""
    motor, wall, shaft = plain(), friction(0.5), plain().rest()
    ahead = []
    for _ in range(8):
        shaft = carried(motor, Turn(0.9), shaft, wall).shaft
        ahead.append(shaft.held_deg)
    assert shaft.angle_deg == 0.0
    assert ahead[:3] == approx([0.9, 1.8, 2.7])
    assert ahead[4:] == approx([-2.7, -1.8, -0.9, 0.0], abs=1e-9)


@given(turn=st.integers(10, 1500), share=st.floats(0.05, 0.95), nm_per_deg=st.floats(0.0, 1e-3))
def test_a_turn_in_two_parts_ends_as_a_whole_one(turn: int, share: float, nm_per_deg: float) -> None:
    motor, step, load = plain(), 1.8 / 16, spring(nm_per_deg)
    whole = carried(motor, Turn(turn * step), motor.rest(), load)
    first = carried(motor, Turn(round(turn * share) * step), motor.rest(), load)
    second = carried(motor, Turn((turn - round(turn * share)) * step), first.shaft, load)
    assert second.shaft.angle_deg == approx(whole.shaft.angle_deg, abs=1e-9)
    assert second.seconds + first.seconds == approx(whole.seconds, abs=1e-9)


def test_above_the_pull_in_rate_it_does_not_start() -> None:
    quick, slow = plain(step_rate_hz=501.0), plain(step_rate_hz=499.0)
    assert carried(quick, Turn(72.0), quick.rest(), friction(0.001)).shaft.angle_deg == 0.0
    assert carried(slow, Turn(72.0), slow.rest(), friction(0.001)).shaft.angle_deg == approx(72.0, abs=0.01)
    assert quick.stall_torque_nm(BENCH) == quick.speed_deg_s(0.0, BENCH) == 0.0


@pytest.mark.parametrize(("rate_hz", "share"), [(1.0, 0.7), (100.0, 0.7), (200.0, 0.35), (400.0, 0.175)])
def test_pull_out_torque_is_constant_to_the_corner_and_falls_as_one_over_the_rate(rate_hz: float, share: float) -> None:
    motor = plain(step_rate_hz=rate_hz, corner_hz=100.0)
    assert motor.stall_torque_nm(BENCH) == approx(share * 0.4)


def test_a_slow_spin_pulls_what_a_fast_one_does_not_and_none_is_faster_than_a_turn() -> None:
    motor = plain(step_rate_hz=400.0, corner_hz=100.0)
    line = Load(0.15, 0.0, 10.0)
    speeds = {}
    for speed in (-36.0, 90.0, 9000.0):
        shaft = motor.aim(Spin(speed), motor.rest())
        last = motor.plan(Spin(speed), shaft, lambda direction: line, BENCH).pieces[-1]
        speeds[speed] = last.speed_deg_s
        assert abs(shaft.speed_deg_s) <= 720.0
    assert speeds == approx({-36.0: -36.0, 90.0: 90.0, 9000.0: 0.0})


def test_a_stop_on_the_way_keeps_what_is_believed_beside_what_is_true() -> None:
    motor = plain(**GEARED)
    aimed = motor.aim(Turn(45.0), motor.rest())
    motion = motor.plan(Turn(45.0), aimed, lambda direction: Load(0.0, 0.0, math.inf), BENCH)
    half_way = motor.after(aimed, motion.pieces[0], motion.pieces[0].duration_s / 2)
    stopped = motor.aim(STOP, half_way)
    assert stopped.asked_deg == approx(22.5)
    assert stopped.held_deg == approx(22.5 * 64.0 / TEETH)
    assert (stopped.drive_s, stopped.speed_deg_s) == (0.0, 0.0)


def test_a_turn_is_made_of_whole_microsteps_and_the_rest_forgotten() -> None:
    """0.1 deg is one microstep of 0.1125 deg each time; less than half a one is nothing, however often asked."""
    motor, shaft = plain(), plain().rest()
    for _ in range(10):
        shaft = carried(motor, Turn(0.1), shaft, friction(0.0)).shaft
    assert shaft.angle_deg == approx(10 * 0.1125)
    assert motor.aim(Turn(0.05), motor.rest()) == motor.rest()


def test_a_load_that_drives_the_shaft_makes_the_rotor_lead() -> None:
    motor = plain()
    end = carried(motor, Turn(-9.0), motor.rest(), friction(0.1, -0.05))
    assert -9.0 - end.shaft.angle_deg == approx(0.143615, abs=5e-7)


def test_without_current_only_the_detent_torque_holds() -> None:
    assert plain().holding_nm(BENCH) == approx(0.4)
    assert plain(hold=False).holding_nm(BENCH) == approx(0.016)


def test_a_chopper_keeps_its_current_until_the_supply_cannot() -> None:
    """Torque goes with current; 2 ohm and 1.5 A need 3 V, and a winding that gets half of it has half the torque."""
    chopper, switches = plain(), plain(driver="voltage")
    for motor in (chopper, switches):
        torques = [motor.stall_torque_nm(Source(volts, 0.0)) for volts in (1.5, 3.0, 12.0)]
        assert torques == approx([0.14, 0.28, 0.28])
    assert amps(switches, Source(12.0, 0.0)) == approx(12.0)
    assert amps(chopper, Source(1.5, 0.0)) == approx(1.5)


@given(volts=st.floats(3.5, 30.0), ohms=st.floats(0.0, 0.15))
def test_a_chopper_draws_the_heat_of_its_windings(volts: float, ohms: float) -> None:
    """``V_terminal I = 2 I_rated^2 R`` (both windings), at constant current for the whole turn."""
    motor, source = plain(), Source(volts, ohms)
    drawn_a = amps(motor, source)
    assert drawn_a * (volts - ohms * drawn_a) == approx(2 * 1.5**2 * 2.0)


def amps(motor: Stepper, source: Source) -> float:
    """Return the supply current of a turn, which does not change on the way."""
    shaft = motor.aim(Turn(90.0), motor.rest())
    (piece,) = motor.plan(Turn(90.0), shaft, lambda direction: Load(0.0, 0.0, math.inf), source).pieces
    drawn_a = charge_c(piece, piece.duration_s) / piece.duration_s
    assert voltage_v(piece, 0.0) == approx(source.voltage_v - source.resistance_ohm * drawn_a)
    return drawn_a


@pytest.mark.parametrize("count", [0, 3, 10, 12, 512, 16.5])
def test_a_microstep_count_that_no_driver_has_is_refused(count: float) -> None:
    with pytest.raises(ValidationError) as refused:
        plain(microsteps=count)
    assert [fault["loc"] for fault in refused.value.errors()] == [("microsteps",)]


@given(ahead=st.floats(0.0, 50.0), torque=st.floats(0.0, 0.5), slope=st.floats(0.0, 0.1))
def test_a_rotor_stops_where_its_lag_carries_the_load(ahead: float, torque: float, slope: float) -> None:
    """``way + lag(torque(way)) = ahead`` unless the load is more than the field holds (independent arithmetic)."""
    rotor = Rotor(7.2, 0.4)
    way = rotor.way_deg(ahead, Load(torque, slope, math.inf))
    carried_nm = 0.4 * math.sin(math.tau * min(ahead - way, 1.8) / 7.2)
    if way > 0.0:
        assert carried_nm == approx(torque + slope * way, abs=1e-9)
    else:
        assert torque >= carried_nm - 1e-12


def nominal(name: str) -> Stepper:
    found = part("motor", name)
    values = {key: value.value for key, value in found.values.items()}
    made: Stepper = Part("motor", component_class("motor", found.kind), values, {}).drawn(lambda key: 0.5)
    return made


def test_the_parts_of_the_library() -> None:
    """34.3 mN m of published pull-in torque; the acoustic set's knobs need 58 to 83 (independent arithmetic)."""
    geared, usual = nominal("stepper-geared"), nominal("stepper-plain")
    assert geared.gear_ratio == approx(TEETH, abs=5e-6)
    assert geared.stall_torque_nm(Source(5.0, 0.0)) == approx(0.0343, rel=5e-3)
    assert geared.stall_torque_nm(Source(5.0, 0.2)) < 0.058
    assert usual.stall_torque_nm(Source(6.0, 0.2)) > 0.083
    assert usual.microsteps == 16
