"""The gear motor against its data sheet, pulses in closed form, and an integration in small steps (scipy)."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from pytest import approx

from models.messages import STOP, Load, Motion, Source, Spin, Turn
from models.motors.base import Shaft, angle_deg, current_a, energy_j, speed_deg_s, voltage_v
from models.motors.gear_motor import GearMotor
from models.units import NANOSECONDS
from tests.unit.models.test_drive import mounted

OHM, KE, KT, IDLE_A, J = 6.0 / 0.36, 0.416251, 0.213439, 0.02, 1.5e-4  # row DC1: SI units, at the output shaft
SHEET = {
    "reference_v": 6.0, "speed_ref_deg_s": math.degrees((6.0 - IDLE_A * OHM) / KE), "run_current_a": IDLE_A,
    "stall_torque_ref_nm": KT * (0.36 - IDLE_A), "stall_current_a": 0.36, "time_constant_ms": 1e3 * OHM * J / (KE * KT),
    "breakaway_factor": 1.0, "duty": 1.0, "stopping": "brake", "believed_speed_deg_s": 1000.0, "encoder_counts": 0,
    "output_slop_deg": 0.0,
}  # fmt: skip
SIX = Source(6.0, 0.0)
LOAD = Load(0.03, 0.0, math.inf)


def made(**changes: Any) -> GearMotor:
    return GearMotor(**SHEET | changes)


def motion(
    motor: GearMotor, command: Any, load: Load = LOAD, source: Source = SIX, shaft: Shaft | None = None
) -> Motion:
    return motor.plan(command, motor.aim(command, shaft or motor.rest()), lambda sense: load, source)


def pulse(seconds: float) -> Turn:
    """Return the turn for which a driver that believes in 1000 deg/s drives for so long."""
    return Turn(1000.0 * seconds)


def end_deg(found: Motion) -> float:
    return angle_deg(found.pieces[-1], found.pieces[-1].duration_s)


def parts_deg(found: Motion) -> tuple[float, float]:
    """Return the angle driven and the angle run out."""
    on, out = found.pieces
    return out.start_deg - on.start_deg, end_deg(found) - out.start_deg


@pytest.mark.parametrize(
    ("seconds", "on", "brake", "coast"),
    [(0.02, 2.601, 1.474, 2.070), (0.05, 12.1804, 3.3480, 5.5201), (0.1, 33.248, 4.303, 7.546)],
)
def test_row_dc1_pulses(seconds: float, on: float, brake: float, coast: float) -> None:
    """Degrees driven, braked and coasted against 30 mN m (independent arithmetic), to the last digit given."""
    digits = 6e-5 if seconds == 0.05 else 6e-4
    assert parts_deg(motion(made(), pulse(seconds))) == approx((on, brake), abs=digits)
    assert parts_deg(motion(made(stopping="coast"), pulse(seconds))) == approx((on, coast), abs=digits)


def test_row_dc1_speed_and_energy() -> None:
    """7.98574 rad/s from constants of six digits; the 50 ms pulse takes 76.1 mJ (independent arithmetic)."""
    found = motion(made(), pulse(0.05))
    assert math.radians(found.pieces[0].final_deg_s) == approx(7.98574, abs=2e-5)
    assert math.radians(made().speed_deg_s(0.03, SIX)) == approx(7.98574, abs=2e-5)
    assert sum(energy_j(piece, piece.duration_s) for piece in found.pieces) == approx(76.1e-3, abs=5e-5)


def test_the_data_sheet_comes_out_again() -> None:
    """A vendor's rows at 6 V: 130 rpm and 20 mA without load, 7.4 kgf mm and 0.36 A at stall."""
    stall_nm = 7.4e-3 * 9.80665
    motor = made(speed_ref_deg_s=780.0, stall_torque_ref_nm=stall_nm)
    assert motor.stall_torque_nm(SIX) == approx(stall_nm)
    assert motor.speed_deg_s(0.0, SIX) == approx(780.0)
    assert motor.speed_deg_s(stall_nm / 2.0, SIX) == approx(390.0)
    idle = motion(motor, Spin(1000.0), Load(0.0, 0.0, 1e4)).pieces[0]
    assert current_a(idle, 0.0) == approx(0.36)
    assert current_a(idle, idle.duration_s) == approx(0.02)


def test_short_pulses_turn_less_than_their_share() -> None:
    """Beside the spin-up the angle grows with the square of time: half the time, a quarter of the angle."""
    short, double = (parts_deg(motion(made(), pulse(seconds)))[0] for seconds in (0.001, 0.002))
    assert short / double == approx(0.25, rel=0.03)


def test_break_away_duty() -> None:
    """At 1.5 times the load it starts from a duty of 0.641 on (independent arithmetic)."""
    assert motion(made(breakaway_factor=1.5, duty=0.640), pulse(0.05)) == Motion((), "stalled")
    assert motion(made(breakaway_factor=1.5, duty=0.643), pulse(0.05)).ending == "reached"


def test_a_turning_shaft_needs_no_break_away() -> None:
    motor = made(breakaway_factor=5.0)
    turning = motor.rest()._replace(speed_deg_s=300.0)
    assert motion(motor, pulse(0.05)).ending == "stalled"
    assert motion(motor, pulse(0.05), shaft=turning).ending == "reached"


@pytest.mark.parametrize("seconds", [0.05, 0.15, 0.38, 0.6])
def test_a_rising_load_against_an_integration_in_small_steps(seconds: float) -> None:
    """Independent library: scipy's Runge-Kutta on ``J dw/dt = Kt (I - I0) - torque``, ``I = (V - Ke w) / R``."""
    from scipy.integrate import solve_ivp

    stall = made().stall_torque_nm(SIX)
    load = Load(0.1 * stall, 0.5 * stall / 180.0, math.inf)

    def slope(volts: float) -> Any:
        def of(t: float, state: Any) -> list[float]:
            torque = load.torque_nm + load.slope_nm_per_deg * math.degrees(state[0])
            return [state[1], (KT * ((volts - KE * state[1]) / OHM - IDLE_A) - torque) / J]

        return of

    def stands(t: float, state: Any) -> float:
        return float(state[1])

    stands.terminal, stands.direction = True, -1.0
    driven = solve_ivp(slope(6.0), (0.0, seconds), [0.0, 0.0], rtol=1e-8, atol=1e-10).y[:, -1]
    rest = solve_ivp(slope(0.0), (0.0, 5.0), driven, rtol=1e-8, atol=1e-10, events=stands).y[0, -1]
    assert end_deg(motion(made(), pulse(seconds), load)) == approx(math.degrees(rest), abs=0.03)


def test_a_load_that_grows_too_heavy_stalls_it_at_the_stall_torque() -> None:
    stall = made().stall_torque_nm(SIX)
    found = motion(made(), Spin(1000.0), Load(0.0, stall / 200.0, math.inf))
    assert found.ending == "stalled"
    assert end_deg(found) == approx(200.0, rel=5e-3)


def test_an_encoder_ends_the_drive_at_its_count_whatever_the_load_and_the_belief() -> None:
    """1200 counts: 50 degrees are 167 counts of 0.3 degrees, 50.1; the run-out comes on top, unseen."""
    for torque in (0.0, 0.03, 0.05):
        found = motion(made(encoder_counts=1200, believed_speed_deg_s=17.0), Turn(50.0), Load(torque, 0.0, math.inf))
        assert parts_deg(found)[0] == approx(50.1, abs=1e-9)
        assert end_deg(found) > 50.2


def test_less_than_half_a_count_is_no_turn() -> None:
    assert motion(made(encoder_counts=1200), Turn(0.149)) == Motion((), "reached")
    assert motion(made(encoder_counts=1200), Turn(0.151)).pieces


@given(share=st.floats(0.2, 5.0), angle=st.floats(5.0, 300.0))
def test_a_wrong_belief_drives_for_a_wrong_time(share: float, angle: float) -> None:
    right, wrong = (motion(made(believed_speed_deg_s=600.0 * by), Turn(angle)).pieces[0] for by in (1.0, share))
    assert wrong.duration_s == approx(right.duration_s / share)


def test_a_spin_takes_its_duty_from_the_believed_speed() -> None:
    """At half the duty and no resistance before it, the line falls by half the no-load voltage (closed form)."""
    spun = motion(made(), Spin(-500.0), Load(0.01, 0.0, 1e3)).pieces[0]
    wanted = (0.5 * 6.0 - OHM * (IDLE_A + 0.01 / KT)) / KE
    assert spun.final_deg_s == approx(-math.degrees(wanted))
    assert motion(made(), Spin(5000.0)).pieces[0].final_deg_s == approx(made().speed_deg_s(0.03, SIX))


@pytest.mark.parametrize("duty", [0.3, 0.7, 1.0])
def test_the_driver_passes_power_on_without_loss(duty: float) -> None:
    """At rest all power heats the winding: terminal voltage times supply current is ``R I^2`` of the winding."""
    piece = motion(made(duty=duty), pulse(0.1), Load(0.0, 0.0, math.inf), Source(9.0, 3.0)).pieces[0]
    amps = current_a(piece, 0.0)
    assert voltage_v(piece, 0.0) * amps == approx(OHM * (amps / duty) ** 2)


@given(torque=st.floats(0.0, 0.06), seconds=st.floats(0.005, 2.0), duty=st.floats(0.2, 1.0))
def test_it_gives_no_more_work_than_it_takes(torque: float, seconds: float, duty: float) -> None:
    found = motion(made(duty=duty), pulse(seconds), Load(torque, 0.0, math.inf), Source(6.0, 0.5))
    if found.pieces:
        taken = sum(energy_j(piece, piece.duration_s) for piece in found.pieces)
        assert torque * math.radians(end_deg(found)) < taken


def test_a_stop_on_the_way_runs_on_and_coasting_runs_further() -> None:
    ran = []
    for stopping in ("brake", "coast"):
        motor = made(stopping=stopping)
        piece = motion(motor, pulse(1.0)).pieces[0]
        cut = motor.after(motor.aim(pulse(1.0), motor.rest()), piece, 0.05)
        assert cut.speed_deg_s == approx(speed_deg_s(piece, 0.05))
        assert cut.drive_s == approx(0.95)
        ran.append(end_deg(motion(motor, STOP, shaft=cut)) - cut.angle_deg)
    assert ran == approx([3.3480, 5.5201], abs=6e-5)  # as after a pulse of 50 ms: row DC1


def test_it_stands_before_it_turns_the_other_way() -> None:
    motor = made()
    turning = motor.rest()._replace(angle_deg=10.0, speed_deg_s=300.0)
    first = motion(motor, Turn(-50.0), shaft=turning)
    assert first.ending == "next event"
    assert end_deg(first) > 10.0
    there = motor.after(motor.aim(Turn(-50.0), turning), first.pieces[-1], first.pieces[-1].duration_s)
    assert (there.speed_deg_s, there.drive_s) == (0.0, 0.05)
    back = motor.plan(Turn(-50.0), there, lambda sense: LOAD, SIX)
    assert end_deg(back) - there.angle_deg == approx(-sum((12.1804, 3.3480)), abs=2e-4)


def test_an_unpowered_gear_motor_holds_what_its_friction_holds() -> None:
    assert made().holding_nm(SIX) == approx(KT * IDLE_A)


def test_on_a_string_a_cut_drive_runs_out_against_the_load() -> None:
    motor = made(stall_torque_ref_nm=0.21, speed_ref_deg_s=262.0, believed_speed_deg_s=262.0)
    instrument, drive = mounted(motor)
    end = drive.command(Turn(200.0), 0)
    at_ns = end.at_ns // 2
    drive.stop(at_ns)
    assert at_ns < drive.end.at_ns < at_ns + 0.1 * NANOSECONDS
    assert drive.end.how == "rest"
    assert instrument.tension_n("a", drive.end.at_ns) > instrument.tension_n("a", at_ns) > 70.0


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"run_current_a": 0.36}, "run_current_a is not below stall_current_a"),
        ({"stall_torque_ref_nm": 0.2}, "power comes from nowhere"),
        ({"duty": 0.0}, "duty"),
        ({"breakaway_factor": 0.9}, "breakaway_factor"),
        ({"encoder_counts": -1}, "encoder_counts"),
        ({"stopping": "hold"}, "stopping"),
    ],
)
def test_a_motor_that_cannot_be_is_refused(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        made(**changes)


@given(share=st.floats(0.01, 0.99))
def test_a_new_command_finds_the_shaft_at_the_speed_that_it_has(share: float) -> None:
    """Whenever a pulse is cut, the run-out begins with the speed of that instant, however many pieces the plan had."""
    instrument, drive = mounted(made())
    driven_ns = round(share * 0.2 * NANOSECONDS)
    drive.command(pulse(0.2), 0)
    path = instrument.paths["a"]
    under_way = path.last_before(driven_ns)
    speed = speed_deg_s(under_way.piece, (driven_ns - under_way.start_ns) / NANOSECONDS)
    drive.stop(driven_ns)
    run_out = path.last_before(driven_ns)
    assert run_out.start_ns == driven_ns
    assert run_out.piece.speed_deg_s == approx(speed, rel=1e-6, abs=1e-6)
