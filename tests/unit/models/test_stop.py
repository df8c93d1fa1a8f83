"""The stop of the knob: it is never passed, splitting changes nothing, loosening stays free, and motors meet a wall."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.coupler import TOUCHING_DEG, WALL_NM
from models.drive import Drive, Machine, Stand
from models.drivetrain import Chain
from models.instrument import Instrument
from models.messages import Source, Spin, Turn
from models.units import NANOSECONDS
from scenarios.load import load_rig
from tests.loop.rigs import Bench
from tests.unit.models.test_drivetrain import built
from tests.unit.models.trains import TRAINS

START_N = 40.0


def stopped(train: Chain, stop_deg: float) -> Chain:
    return replace(train, stop_deg=stop_deg)


@settings(max_examples=300, deadline=None)
@given(
    train=TRAINS,
    stop_deg=st.floats(0.5, 200.0),
    way=st.lists(st.floats(-300.0, 300.0), min_size=1, max_size=5),
)
def test_the_knob_never_passes_the_stop(train: Chain, stop_deg: float, way: list[float]) -> None:
    at = stopped(train, stop_deg).at(START_N, 0.0)
    limit_deg = at.stop_deg
    assert limit_deg == at.knob_deg + stop_deg
    for turn in way:
        at = train.follow(at, at.shaft_deg + turn)
        assert at.knob_deg <= limit_deg
    assert train.regripped(at, 7.0, 0.3).stop_deg == limit_deg  # a hand that grips again takes no pin out


@settings(max_examples=300, deadline=None)
@given(
    train=TRAINS,
    stop_deg=st.floats(0.5, 100.0),
    beyond=st.floats(0.0, 300.0),
    shares=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6),
)
def test_splitting_a_turn_into_the_stop_ends_in_the_same_state(train, stop_deg, beyond, shares) -> None:
    begins = stopped(train, stop_deg).at(START_N, 0.0)
    whole = train.follow(begins, stop_deg + beyond)
    at = begins
    for share in sorted(shares):
        at = train.follow(at, share * (stop_deg + beyond))
    at = train.follow(at, stop_deg + beyond)
    if whole.knob_deg == begins.stop_deg:  # short of it slips differ by one at a threshold: another test's matter
        assert at.knob_deg == whole.knob_deg
        assert at.grip_deg == pytest.approx(whole.grip_deg, abs=1e-9)
        assert at.behind_n == pytest.approx(whole.behind_n, rel=1e-9)


@given(stop_deg=st.floats(1.0, 300.0), slop_deg=st.floats(0.0, 10.0))
@settings(max_examples=50, deadline=None)
def test_tension_at_the_stop_is_the_windings_and_what_lies_before_it_the_knob_alone(stop_deg, slop_deg) -> None:
    """Closed form: the string's stiffness times the post's turn; slop is used up before, and counts for nothing."""
    train = stopped(built(slop_deg), stop_deg)
    begins = train.at(START_N, 0.0)
    ends = train.follow(begins, stop_deg + 500.0)
    assert ends.speaking_n == pytest.approx(START_N + train.newton_per_deg * stop_deg / train.ratio, rel=1e-9)


def test_a_load_ends_at_the_stop_is_a_wall_there_and_nothing_the_other_way():
    train = stopped(built(), 20.0)
    begins = train.at(START_N, 0.0)
    assert train.load(begins, 1).room_deg == pytest.approx(20.0, abs=TOUCHING_DEG)
    there = train.follow(begins, 20.0)
    assert train.load(there, 1) == (WALL_NM, 0.0, math.inf)
    assert train.load(there, -1) == (0.0, 0.0, pytest.approx(2.0 * train.half_slop_deg))
    back = train.follow(there, there.shaft_deg - 2.0 * train.half_slop_deg - 5.0)
    assert back.knob_deg == pytest.approx(there.knob_deg - 5.0)


def test_the_body_moves_stop_and_knob_alike():
    train = stopped(built(), 20.0)
    begins = train.at(START_N, 0.0)
    pulled = train.pulled(begins, 3.0)
    assert pulled.stop_deg - pulled.knob_deg == pytest.approx(20.0)


def driven(rig: str, changes: tuple[str, ...], command: Turn | Spin, stop_deg: float) -> Drive:
    """Return a drive that was told to turn far into a stop behind a free nut and a coupler that never slips."""
    motor = load_rig(rig, changes=list(changes)).motor.nominal()
    train = stopped(built(), stop_deg)
    machine = Machine(motor, Bench(Source(6.0, 0.5)), 0.0, True)
    begins = train.at(START_N, motor.rest().angle_deg)
    drive = Drive(
        Instrument({"a": train}, {"a": begins}), "a", machine, lambda n: (3.0, 0.5), Stand(begins, motor.rest())
    )
    drive.command(command, 0)
    return drive


@pytest.mark.parametrize(
    ("rig", "command"),
    [("theory", Turn(900.0)), ("theory", Spin(50.0)), ("default", Turn(900.0)), ("gear-motor", Turn(900.0)),
     ("gear-motor", Spin(200.0))],
)  # fmt: skip
@pytest.mark.parametrize("stop_deg", [30.0, 250.0])
def test_a_motor_stalls_at_the_stop_also_after_hands_gripped_again(rig: str, command: Turn | Spin, stop_deg: float):
    drive = driven(rig, (), command, stop_deg)
    ends = drive.stands().angles
    assert drive.end.how == "stalled"
    assert ends.stop_deg - TOUCHING_DEG <= ends.knob_deg <= ends.stop_deg


def test_a_stepper_loses_steps_at_the_stop_and_is_not_told():
    drive = driven("plain-stepper", (), Turn(900.0), 30.0)
    ends = drive.stands().angles
    assert drive.end.how == "rest"
    assert ends.stop_deg - 2.0 <= ends.knob_deg <= ends.stop_deg


def test_a_stalled_motor_turns_back_freely():
    drive = driven("gear-motor", (), Turn(900.0), 30.0)
    there = drive.stands().angles.knob_deg
    drive.command(Turn(-60.0), drive.end.at_ns + NANOSECONDS)
    assert drive.end.how == "rest"
    assert drive.stands().angles.knob_deg < there - 30.0


@pytest.mark.parametrize("cut_s", [0.05, 0.2, 0.4, 5.0])
def test_a_run_cut_at_any_instant_stays_short_of_the_stop(cut_s: float):
    drive = driven("gear-motor", (), Spin(200.0), 60.0)
    drive.stop_at(round(cut_s * NANOSECONDS))
    ends = drive.stands().angles
    assert drive.end.how in ("rest", "stalled")
    assert ends.knob_deg <= ends.stop_deg
