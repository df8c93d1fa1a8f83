"""A drive on a friction peg: the motor holds it or lets it go, re-grips let it slip back, motions can be cut."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from models.coupler import Twist
from models.drive import Drive, Machine, Stand
from models.drivetrain import Chain
from models.instrument import Instrument
from models.messages import Source, Turn
from models.motors.ideal import IdealMotor
from tests.loop.rigs import Bench
from tests.unit.models.test_drive import SERVO
from tests.unit.models.test_gear_motor import made
from tests.unit.models.trains import train

IDEAL = IdealMotor(speed_limit_deg_s=100.0, resolution_deg=0.0)
STIFF = Twist(0.5, 3.0)


def mounted(chain: Chain, motor, tension: float = 60.0) -> tuple[Instrument, Drive]:
    shaft = motor.rest()
    begins = Stand(chain.at(tension, shaft.angle_deg), shaft)
    instrument = Instrument({"a": chain}, {"a": begins.angles})
    machine = Machine(motor, Bench(Source(6.0, 0.2)), 0.0, True)
    return instrument, Drive(instrument, "a", machine, lambda number: (3.0, 0.5), begins)


def pull_nm(chain: Chain, instrument: Instrument) -> float:
    """Return the torque of the string on the peg when all is quiet."""
    return instrument.paths["a"].stretches[-1].ends.behind_n * chain.string.winding_radius_m


def test_a_motor_that_holds_keeps_a_weak_peg_where_it_turned_it() -> None:
    """The peg holds 0.11 N m (independent arithmetic); with the ideal motor on it, it carries far more."""
    chain = train("weak peg", STIFF)
    instrument, drive = mounted(chain, IDEAL, 20.0)
    drive.command(Turn(40.0), 0)
    assert chain.static_nm < 0.12
    assert pull_nm(chain, instrument) > 1.5 * chain.static_nm


def test_a_motor_without_holding_torque_lets_a_weak_peg_back() -> None:
    """What is left pulls no harder than the peg's friction and the motor's own."""
    chain = train("weak peg", STIFF)
    strong = made(stall_torque_ref_nm=5.0, stall_current_a=30.0)
    instrument, drive = mounted(chain, strong, 20.0)
    drive.command(Turn(120.0), 0)
    peak_nm = max(each.ends.behind_n for each in instrument.paths["a"].stretches) * chain.string.winding_radius_m
    held_nm = chain.static_nm + strong.holding_nm(Source(6.0, 0.2))
    assert peak_nm > held_nm
    assert pull_nm(chain, instrument) <= held_nm + 1e-9


def test_a_regrip_lets_a_weak_peg_slip_back_and_a_seated_one_stay() -> None:
    for name, stays in (("peg", True), ("weak peg", False)):
        chain = train(name, STIFF)
        begins = chain.at(20.0, 0.0)
        wound = chain.follow(begins, 40.0)
        again = chain.regripped(wound, 0.0, 0.5)
        assert (again.post_deg == wound.post_deg) is stays
        assert (again.behind_n * chain.string.winding_radius_m <= chain.static_nm) or stays


def test_a_turn_of_a_peg_is_a_few_stretches_however_many_jumps_it_makes() -> None:
    chain = train("peg", STIFF, "jumps")
    instrument, drive = mounted(chain, IDEAL)
    before = instrument.paths["a"].begins
    drive.command(Turn(30.0), 0)
    after = instrument.paths["a"].stretches[-1].ends
    jumps = (after.knob_deg - before.knob_deg) / (chain.quantum_nm * STIFF.compliance_deg_per_nm)
    assert jumps > 50
    assert len(instrument.paths["a"].stretches) <= 4


@settings(max_examples=60, deadline=None)
@given(angle=st.floats(-40.0, 25.0).filter(lambda angle: abs(angle) > 0.5), share=st.floats(0.02, 0.98))
def test_a_turn_of_a_peg_can_be_cut_at_any_instant(angle: float, share: float) -> None:
    """Stopping on the way and asking for the rest ends within a jump of where the whole turn ends."""
    chain = train("peg", STIFF, "jumps")
    whole_instrument, whole = mounted(chain, IDEAL)
    end = whole.command(Turn(angle), 0)
    cut_instrument, cut = mounted(chain, IDEAL)
    cut.command(Turn(angle), 0)
    cut.stop(round(end.at_ns * share))
    stopped = cut_instrument.paths["a"].stretches[-1].ends
    cut.command(Turn(angle - stopped.shaft_deg), end.at_ns + 1)
    ends = [each.paths["a"].stretches[-1].ends for each in (whole_instrument, cut_instrument)]
    jump_deg = chain.quantum_nm * STIFF.compliance_deg_per_nm
    assert ends[1].knob_deg == approx(ends[0].knob_deg, abs=jump_deg + 1e-6)


def test_a_peg_that_jumps_beyond_the_breaking_tension_breaks_its_string() -> None:
    chain = train("flying peg", Twist(0.0, 60.0))
    instrument, drive = mounted(chain, IDEAL, 90.0)
    assert drive.command(Turn(200.0), 0).how == "broke"
    assert "a" in instrument.breaks_ns


def test_a_servo_turns_a_peg_against_friction_and_string() -> None:
    """A servo of 0.4 N m stalls at a peg that needs 0.44 N m of friction and 0.24 of string."""
    chain = train("peg", STIFF)
    assert chain.turning_nm(60.0, 1) == approx(chain.static_nm + 60.0 * 4e-3)
    _, weak = mounted(chain, SERVO)
    assert weak.command(Turn(30.0), 0).how == "stalled"
    _, strong = mounted(chain, replace(SERVO, stall_torque_ref_nm=2.0))
    assert strong.command(Turn(30.0), 0).how == "rest"
