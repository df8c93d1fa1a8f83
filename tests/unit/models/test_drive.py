"""The drive on an instrument of several strings: motions can be cut anywhere, and only its own string moves."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.drive import Drive, Machine, Stand
from models.instrument import Instrument
from models.messages import Source, Spin, Turn
from models.motors.ideal import IdealMotor
from models.motors.servo import PositionalServo
from models.units import NANOSECONDS
from tests.loop.rigs import Bench
from tests.unit.models.test_drivetrain import built

SERVO = PositionalServo(
    travel_deg=180.0, pulse_span_us=2000.0, pulse_step_us=0.0, pulse_deadband_us=0.0, speed_ref_deg_s=360.0,
    stall_torque_ref_nm=0.4, reference_v=6.0, droop_band_deg=0.0, run_current_a=0.5, stall_current_a=2.5, frame_ms=20.0,
)  # fmt: skip
IDEAL = IdealMotor(speed_limit_deg_s=100.0, resolution_deg=0.0)


def mounted(motor, tension: float = 70.0, regrip: bool = True) -> tuple[Instrument, Drive]:
    train = built()
    begins = train.at(tension, motor.rest().angle_deg)
    instrument = Instrument({"a": train, "b": train}, {"a": begins, "b": begins})
    machine = Machine(motor, Bench(Source(6.0, 0.2)), 0.0, regrip)
    return instrument, Drive(instrument, "a", machine, lambda number: (3.0, 0.5), Stand(begins, motor.rest()))


@settings(max_examples=150, deadline=None)
@given(angle=st.floats(-150.0, 150.0).filter(lambda angle: abs(angle) > 0.5), share=st.floats(0.02, 0.98))
def test_a_motion_can_be_cut_at_any_instant(angle: float, share: float) -> None:
    """Stopping on the way and asking for the rest ends where the whole turn ends."""
    whole_instrument, whole = mounted(IDEAL)
    end = whole.command(Turn(angle), 0)
    cut_instrument, cut = mounted(IDEAL)
    cut.command(Turn(angle), 0)
    at_ns = round(end.at_ns * share)
    cut.stop(at_ns)
    stopped = cut_instrument.paths["a"].stretches[-1].ends
    assert cut_instrument.paths["a"].tension_n(at_ns) == stopped.speaking_n
    assert whole_instrument.paths["a"].tension_n(at_ns) == pytest.approx(stopped.speaking_n, abs=1e-9)
    again = cut.command(Turn(angle - stopped.shaft_deg), at_ns + NANOSECONDS)
    wanted = whole_instrument.paths["a"].tension_n(end.at_ns)
    assert cut_instrument.paths["a"].tension_n(again.at_ns) == pytest.approx(wanted, abs=1e-9)


def test_planning_moves_nothing_and_other_strings_rest() -> None:
    instrument, drive = mounted(SERVO)
    before = instrument.tension_n("a", 0)
    end = drive.command(Turn(-60.0), 0)
    assert instrument.tension_n("a", 0) == before
    assert instrument.tension_n("a", end.at_ns) < before
    assert instrument.tension_n("b", end.at_ns) == before


def test_a_command_in_time_takes_back_what_was_only_planned() -> None:
    """A spin that would break the string does not, when it is stopped before."""
    instrument, drive = mounted(IDEAL)
    end = drive.command(Spin(100.0), 0)
    assert end.how == "broke"
    drive.stop(end.at_ns // 2)
    instrument.advance(2 * end.at_ns)
    assert not instrument.broken("a")
    assert instrument.tension_n("a", 2 * end.at_ns) > 0.0


def test_a_broken_string_has_no_tension_and_no_pitch() -> None:
    instrument, drive = mounted(IDEAL)
    end = drive.command(Spin(100.0), 0)
    instrument.advance(end.at_ns)
    assert instrument.broken("a") and not instrument.broken("b")
    assert instrument.tension_n("a", end.at_ns) == 0.0
    assert instrument.heard_hz("a", end.at_ns - 1000, end.at_ns + 1000, "first-partial")[0] is None


def test_the_clock_of_the_plant_does_not_run_backwards() -> None:
    instrument, _ = mounted(IDEAL)
    instrument.advance(10)
    with pytest.raises(ValueError, match="cannot go back"):
        instrument.advance(9)
