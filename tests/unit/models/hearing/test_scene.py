"""What reaches the microphone: one string, its motion, and what is beside it."""

from dataclasses import replace

import numpy as np
import pytest

from models.drive import Drive, Stand
from models.hearing.microphone import pressure_pa
from models.hearing.scene import Instants
from models.instrument import Instrument
from models.messages import Turn
from models.motors.ideal import IdealMotor
from tests.unit.models.hearing.quiet import chance, ear_of, quiet_rig, resting

SECOND = 1_000_000_000


def flat(hz):
    """A circuit that passes everything."""
    return np.ones(np.shape(hz), complex)


def heard(rig, instrument: Instrument, instants: Instants, run: int = 0) -> np.ndarray:
    scene = ear_of(rig).scene
    return scene.tones(instrument, rig.string, instants, flat, chance(rig, run), np.zeros(instants.points))


def test_a_pluck_starts_at_its_level() -> None:
    """All partials together: rms over the first periods, re 20 uPa (ISO 1683), less what has decayed by then."""
    rig = quiet_rig("sound.level_db_spl=80", "sound.t60_10_share=1", "strings.E2.t60_s=20")
    sound = heard(rig, resting(rig, level_db=-6.0), Instants(0, 1 / 24000, 2912 * 5))
    assert 20.0 * np.log10(sound.std() / pressure_pa(74.0)) == pytest.approx(-0.9, abs=0.5)


def test_partials_lie_where_stiffness_puts_them_and_decay_as_told() -> None:
    """f_n = n f_1 sqrt((1 + B n^2)/(1 + B)) (Fletcher 1964); each level falls by 60 dB in its own time."""
    rig = quiet_rig("sound.t60_10_share=0.25", "strings.E2.t60_s=8")
    voice = ear_of(rig).scene.voice
    partials = voice.partials(82.407, 0.0, np.random.default_rng(1))
    string = voice.string
    stiff = string.bending_n / string.tension_at_hz(82.407)
    numbers = np.arange(1, 21)
    assert partials.ratios[:20] == pytest.approx(numbers * np.sqrt((1 + stiff * numbers**2) / (1 + stiff)), rel=1e-12)
    fallen_db = 20.0 * np.log10(np.exp(-partials.decays_s[[0, 9]] * np.array([8.0, 2.0])))
    assert fallen_db == pytest.approx([-60.0, -60.0])


def test_no_partial_has_a_node_where_the_string_is_plucked() -> None:
    """Plucked at a fifth of its length, a string lacks every fifth partial (Fletcher & Rossing, section 2.8)."""
    partials = ear_of(quiet_rig("sound.pluck_position=0.2")).scene.voice.partials(82.4, 0.0, np.random.default_rng(1))
    loud = np.abs(partials.amplitudes[:20])
    assert loud[[4, 9, 14, 19]] == pytest.approx(np.zeros(4), abs=1e-12)
    assert loud[[0, 1, 2, 3, 5]].min() > 1e-6


@pytest.mark.parametrize("change", ["sound.glide_cents=30", "sound.second_share=0.6", "sound.neighbours_db=-20"])
def test_rows_that_follow_each_other_fit_together(change: str) -> None:
    """The sound does not depend on how it is cut into windows: the ear hears one string, window after window."""
    rig = quiet_rig(change, "room.hum_db_spl=40")
    instrument, interval = resting(rig, 20.0), 1 / 8000
    whole = heard(rig, instrument, Instants(SECOND // 8, interval, 3000))
    later = heard(rig, instrument, Instants(SECOND // 8 + 125_000 * 2000, interval, 1000))
    assert later == pytest.approx(whole[2000:], abs=2e-5 * np.abs(whole).max())


def turned(rig, degrees: float, speed_deg_s: float) -> Instrument:
    motor = IdealMotor(speed_limit_deg_s=speed_deg_s, resolution_deg=0.0)
    instrument = resting(replace(rig, machine=rig.machine._replace(motor=motor)), -100.0)
    machine = rig.machine._replace(motor=motor, regrip=False)
    drive = Drive(
        instrument,
        rig.string,
        machine,
        lambda number: (1.0, 0.5),
        Stand(instrument.paths[rig.string].begins, motor.rest()),
    )
    drive.command(Turn(degrees), SECOND // 4)
    return instrument


def test_a_turning_string_is_heard_at_the_integral_of_its_pitch() -> None:
    """The number of cycles that are heard is the area under the pitch: phase is the integral of frequency."""
    rig = quiet_rig("coupler.slop_deg=0", "sound.partials=1")
    instrument = turned(rig, 60.0, 100.0)
    sound = heard(rig, instrument, Instants(0, 1 / 24000, 24000))
    rising = np.flatnonzero((sound[:-1] < 0.0) & (sound[1:] >= 0.0))
    places = rising + sound[rising] / (sound[rising] - sound[rising + 1])
    first, last = places[[3, -3]] / 24000
    wanted_hz, moving = instrument.heard_hz(rig.string, round(first * 1e9), round(last * 1e9), "first-partial")
    assert moving and wanted_hz * (last - first) == pytest.approx(len(places) - 6, abs=2e-3)


def test_the_motor_is_heard_while_it_turns_and_not_after() -> None:
    rig = quiet_rig("room.motor_db_spl=70", "sound.level_db_spl=0", "coupler.slop_deg=0")
    instrument = turned(rig, 25.0, 100.0)
    instants = Instants(0, 1 / 8000, 8000)
    sound, bursts = heard(rig, instrument, instants), ear_of(rig).scene.bursts(instrument, rig.string, instants)
    turning = (instants.seconds() > 0.251) & (instants.seconds() < 0.499)
    after = instants.seconds() > 0.51
    assert bursts[turning].min() >= pressure_pa(70.0) > 100.0 * bursts[after].max()
    assert sound[turning].std() > 20.0 * sound[after].std()


def test_a_fresh_pluck_takes_the_place_of_the_last_one() -> None:
    rig = quiet_rig()
    instrument, instants = resting(rig), Instants(SECOND, 1 / 8000, 4000)
    alone = heard(rig, instrument, instants)
    instrument.pluck(rig.string, SECOND + SECOND // 4, 0.0)
    both = heard(rig, instrument, instants)
    assert both[:2000] == pytest.approx(alone[:2000], abs=1e-12)
    assert both[2000:].std() > alone[2000:].std()


def test_a_slack_string_makes_no_tone() -> None:
    rig = quiet_rig()
    instrument = Instrument({rig.string: rig.chain}, {rig.string: rig.chain.at(0.0, 0.0)})
    instrument.pluck(rig.string, 0, 0.0)
    assert np.abs(heard(rig, instrument, Instants(SECOND // 4, 1 / 8000, 512))).max() < pressure_pa(-60.0)
