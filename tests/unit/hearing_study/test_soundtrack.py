"""The sound of a whole run is the one that the ear heard, goes on without seams, and comes into tune."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from models.hearing.scene import Instants
from models.hearing.signal import SignalEar
from models.units import NANOSECONDS
from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.cli import main
from sim.corners import trace
from sim.evaluate import chance_of, record_of, trace_of
from sim.hearing.candidates import candidates
from sim.hearing.listener import of_rig, target_of
from sim.hearing.played import volts
from sim.hearing.recording import Reading, hear
from sim.hearing.soundtrack import RATE_HZ, Floats, soundtrack, tones, write_soundtrack
from sim.hearing.wave import read
from sim.loop import Record


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return load_rig("default", ear="signal")


@pytest.fixture(scope="module")
def record(scenario: Scenario) -> Record:
    return record_of(scenario, "proportional", "E2")


def ear_of(record: Record) -> SignalEar:
    assert isinstance(record.rig.ear, SignalEar)
    return record.rig.ear


def test_a_trace_is_that_of_its_record(scenario: Scenario, record: Record) -> None:
    one, other = trace(record), trace_of(scenario, "proportional", "E2")
    assert one.readings == other.readings
    assert_array_equal(one.first_partial_cents, other.first_partial_cents)


@pytest.mark.parametrize("block", [1000, 24_000])
def test_blocks_leave_no_seam(record: Record, block: int) -> None:
    """Phases go on: another length of block changes 1 % at most, and that only while the string is turned."""
    points, chance = 6 * RATE_HZ, chance_of("E2")
    usual, other = (tones(record, chance, points, size) for size in (6000, block))
    assert math.sqrt(np.mean((usual - other) ** 2)) < 0.01 * usual.std()
    before_the_first_turn = slice(0, int(2.0 * RATE_HZ))
    assert np.abs(usual - other)[before_the_first_turn].max() < 1e-4 * np.abs(usual).max()


def test_it_is_the_very_sound_that_the_ear_heard(record: Record) -> None:
    """The soundtrack through the circuit, at the converter's instants, is what the ear computed by itself there."""
    ear, chance = ear_of(record), chance_of("E2")
    sampled = volts(tones(record, chance, 4 * RATE_HZ), float(RATE_HZ), ear)
    first, count = 8000, 1024  # half a second after the first pluck
    instants = Instants(round(first / ear.converter.true_hz() * NANOSECONDS), 1.0 / ear.converter.true_hz(), count)
    heard = ear.scene.tones(record.instrument, "E2", instants, ear.circuit.gain, chance, np.zeros(count))
    assert heard.std() > 0.01
    assert np.corrcoef(sampled[first : first + count], heard)[0, 1] > 0.999
    assert sampled[first : first + count].std() == pytest.approx(heard.std(), rel=0.01)


def test_the_room_is_as_loud_as_its_density_says(record: Record) -> None:
    """Before the first pluck: power of the room's density up to half the rate, and of its hum (Parseval)."""
    room = ear_of(record).scene.room
    hz = np.linspace(0.0, RATE_HZ / 2.0, 200_001)
    expected = np.trapezoid(room.noise_pa2_hz(hz), hz) + np.sum(room.hum()[1] ** 2) / 2.0
    silent = slice(0, int(record.instrument.plucks["E2"][0][0] / NANOSECONDS * RATE_HZ))
    found = soundtrack(record, chance_of("E2"))[silent]
    assert np.mean(found**2) == pytest.approx(expected, rel=0.25)


def test_attack_and_motor_are_heard_when_they_sound(record: Record) -> None:
    """What is beside the tones is louder right after a pluck and while the motor turns than in between."""
    chance = chance_of("E2")
    found = soundtrack(record, chance)
    rest = found - tones(record, chance, len(found))

    def level(from_s: float, to_s: float) -> float:
        return float(rest[round(from_s * RATE_HZ) : round(to_s * RATE_HZ)].std())

    struck = record.instrument.plucks["E2"][0][0] / NANOSECONDS
    begin, end = record.instrument.turning_s("E2", 0, record.end_ns)[0]
    quiet = level(struck + 0.3, struck + 0.5)
    assert level(struck, struck + 0.01) > 20.0 * quiet
    assert level(begin, end) > 5.0 * quiet


@pytest.mark.parametrize(
    ("string", "changes", "most_cents"),
    [("E2", (), 3.0), ("A2", ("sound.glide_cents=0.0", "sound.second_share=0.0"), 1.5)],
    ids=["as it is", "without glide and beats"],
)
def test_its_own_pitch_track_comes_into_tune(
    tmp_path: Path, string: str, changes: tuple[str, ...], most_cents: float
) -> None:
    """Read back as a recording it is near the true first partial at every reading's instant, down to the last one.

    What is left is glide and beats (some cents), and the sharpness of a period of stiff strings (1.3 cents at A2).
    """
    scenario = load_rig("default", ear="signal", changes=changes)
    record, target = record_of(scenario, "proportional", string), target_of(string, 440.0)
    write_soundtrack(record, chance_of(string), tmp_path / "run.wav")
    detectors = candidates(scenario, ["square-difference-far"], {})
    found = hear("run.wav", read(tmp_path / "run.wav"), of_rig(scenario, target), detectors, target)
    for name in ("harmonic-comb", "square-difference-far"):
        heard, true = _tracks([each for each in found.readings if each.detector == name and each.accepted], record)
        assert np.abs(heard - true).max() < most_cents
        assert abs(heard[0]) > 10.0
        assert abs(heard[-1]) < 5.0


def _tracks(accepted: list[Reading], record: Record) -> tuple[Floats, Floats]:
    """Return what was heard nearest to each reading of the run, and the truth there, in cents."""
    instants, truth = np.array([reading.centre_s for reading in record.readings]), trace(record)
    at_s, cents = (
        np.array(values, float) for values in zip(*((each.t_s, each.cents) for each in accepted), strict=True)
    )
    nearest = np.abs(at_s - instants[:, None]).argmin(axis=1)
    return cents[nearest], np.interp(instants, truth.t_s, truth.first_partial_cents)


def test_a_run_writes_the_sound_that_it_names(record: Record, tmp_path: Path) -> None:
    said = write_soundtrack(record, chance_of("E2"), tmp_path / "proportional.wav")
    found = read(tmp_path / "proportional.wav")
    assert said.startswith(f"proportional.wav: {record.end_ns / NANOSECONDS:.1f} s of sound")
    assert (found.rate_hz, found.form) == (RATE_HZ, "16-bit")
    assert found.seconds() == pytest.approx(record.end_ns / NANOSECONDS, abs=0.001)
    assert np.abs(found.samples).max() == pytest.approx(0.9, abs=1e-3)


def test_the_full_scale_that_is_told_gives_the_pascals_back(record: Record, tmp_path: Path) -> None:
    said = write_soundtrack(record, chance_of("E2"), tmp_path / "run.wav")
    full_pa = float(said.split("full scale is ")[1].split(" Pa")[0])
    sound = soundtrack(record, chance_of("E2"))
    assert full_pa * read(tmp_path / "run.wav").samples.std() == pytest.approx(sound.std(), rel=0.01)


def test_a_statistical_ear_has_no_sound() -> None:
    deaf = record_of(load_rig("default"), "proportional", "E2")
    with pytest.raises(ValueError, match="signal ear"):
        soundtrack(deaf, chance_of("E2"))


@pytest.mark.parametrize(("ear", "wanted"), [("signal", ["fine.wav", "proportional.wav"]), ("statistical", [])])
def test_the_command_writes_a_sound_with_the_signal_ear_only(
    ear: str, wanted: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = ["run", "--ear", ear, "--strategy", "fine,proportional", "--string", "A2", "--seed", "2", "--out", str(out)]
    assert main([*words, "--json"]) == 0
    said = capsys.readouterr()
    json.loads(said.out)
    assert sorted(path.name for path in out.glob("*.wav")) == wanted
    assert all(f"wrote {name}" in said.err for name in wanted)
    assert all(read(out / name).rate_hz >= 22_000 for name in wanted)


def test_a_run_that_ends_at_once_has_no_sound(record: Record, tmp_path: Path) -> None:
    assert "ended at once" in write_soundtrack(replace(record, end_ns=0), chance_of("E2"), tmp_path / "none.wav")
    assert not (tmp_path / "none.wav").exists()


def test_ten_minutes_are_enough(record: Record, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("sim.hearing.soundtrack.LONGEST_S", 2.0)
    said = write_soundtrack(record, chance_of("E2"), tmp_path / "cut.wav")
    assert "(the first 2 s)" in said
    assert read(tmp_path / "cut.wav").seconds() == 2.0
