"""Recordings: exact tones come back, a rig's circuit and converter do to them what theory says, bad input has a line.

All recordings are invented: sums of sines made here.
"""

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from models.hearing.microphone import pressure_pa
from models.units import cents, note_hz, shifted
from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.cli import main
from sim.hearing.candidates import candidates
from sim.hearing.listener import Listener, Target, of_rig, usual
from sim.hearing.played import played, recorded, volts
from sim.hearing.recording import Recording, hear, onsets, plain
from sim.hearing.wave import Wave, WaveError, write
from sim.views.plots.recording import draw, recording, title
from sim.views.recording import about, tables, verdicts
from tests.unit.hearing_study.test_wave import made

Floats = NDArray[np.float64]

E2 = Target("E2", note_hz("E2"))
EXACT = ("harmonic-comb", "square-difference-far", "least-squares", "spectrum-peak", "phase-difference")


@pytest.fixture(scope="module")
def default() -> Scenario:
    return load_rig("default", ear="signal")


def rig(*changes: str) -> Scenario:
    return load_rig("default", ear="signal", changes=changes)


def tone(hz: float, rate_hz: int = 44100, seconds: float = 2.0, partials: int = 6) -> Wave:
    """Return a steady tone with partials falling as 1/n, none above half the rate."""
    turns = 2.0 * math.pi * hz * np.arange(round(seconds * rate_hz)) / rate_hz
    numbers = range(1, min(partials, int(0.49 * rate_hz / hz)) + 1)
    return Wave(0.3 * sum(np.sin(number * turns + number) / number for number in numbers), rate_hz, 1, "16-bit")


def plucked(hz: float, at_s: tuple[float, ...], seconds: float = 3.0, rate_hz: int = 22050) -> Wave:
    """Return plucks that die away within a second, each ended by the next, over faint noise."""
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    sound = 1e-4 * np.random.default_rng(1).standard_normal(len(time_s))
    for begin, end in zip(at_s, (*at_s[1:], seconds), strict=True):
        since = time_s - begin
        rings = (since >= 0.0) & (time_s < end)
        sound += (
            rings * np.exp(-4.0 * since * rings) * sum(np.sin(2.0 * math.pi * n * hz * since) / n for n in (1, 2, 3))
        )
    return Wave(0.3 * sound, rate_hz, 1, "16-bit")


def heard(wave: Wave, target: Target | None, listener: Listener | None = None, *names: str) -> Recording:
    known = candidates(rig(), names or ["harmonic-comb"], {})
    asked = {name: known[name] for name in names or ["harmonic-comb"]}
    return hear("own.wav", wave, listener or usual(), asked, target)


def without_b(listener: Listener) -> Listener:
    """Return a listener that expects exact harmonics, as the tones here have."""
    return replace(listener, inharmonicity=0.0)


@pytest.mark.parametrize(("rate_hz", "off"), [(11025, -31.7), (44100, 12.3), (96000, -5.1)])
def test_exact_tones_are_read_within_a_tenth_of_a_cent(rate_hz: int, off: float) -> None:
    """At any rate: resampling moves no frequency."""
    found = heard(tone(shifted(note_hz("D3"), off), rate_hz), Target("D3", note_hz("D3")), None, *EXACT)
    assert list(found.accepted) == list(EXACT)
    for said in found.accepted.values():
        assert said.cents == pytest.approx(off, abs=0.1)
        assert said.readings > 8


@pytest.mark.parametrize("off", [-31.7, 12.3])
def test_a_rig_reads_them_as_exactly(default: Scenario, off: float) -> None:
    """A filter that stands still moves no frequency, and a nominal clock is right."""
    target = Target("D3", note_hz("D3"))
    found = heard(tone(shifted(target.hz, off)), target, without_b(of_rig(default, target)), *EXACT)
    for said in found.accepted.values():
        assert said.cents == pytest.approx(off, abs=0.1)


def test_a_fast_clock_reads_low() -> None:
    """0.5 % are 8.635 cents: ``1200 log2(1.005)`` (independent arithmetic)."""
    listener = without_b(of_rig(rig("converter.clock_ppm=5000.0"), E2))
    assert heard(tone(E2.hz), E2, listener).accepted["harmonic-comb"].cents == pytest.approx(-8.635, abs=0.1)


@pytest.mark.parametrize(("hz", "rate_hz"), [(110.0, 44100), (997.0, 44100), (1500.0, 48000), (3100.0, 22050)])
def test_the_circuit_does_to_a_tone_what_its_gain_says(default: Scenario, hz: float, rate_hz: int) -> None:
    """In the middle of a long tone: amplitude and phase of the complex gain, at the converter's own instants."""
    ear = of_rig(default, None).ear
    assert ear is not None
    sound = 0.01 * np.sin(2.0 * math.pi * hz * np.arange(3 * rate_hz) / rate_hz)
    found = volts(sound, float(rate_hz), ear)
    turns = 2.0 * math.pi * hz * ear.converter.instants_s(len(found))
    expected = 0.01 * (ear.circuit.gain(np.array([hz]))[0] * np.exp(1j * turns)).imag
    middle = slice(4000, 8000)
    assert_allclose(found[middle], expected[middle], rtol=0, atol=1e-3 * np.abs(expected).max())


def test_what_no_filter_keeps_out_folds() -> None:
    """A tone of 659.3 Hz is seen at 1024 - 659.3 Hz by 1024 samples/s (sampling theorem)."""
    changes = ("converter.part='10-bit-1024'", "listening.part='quarter-second-256'", "acceptance.part='open'")
    wave, folded = tone(659.255, partials=1), 1024.0 - 659.255
    bare = heard(wave, None, of_rig(rig(*changes, "front_end.part='no-filter'"), None), "spectrum-peak")
    assert bare.accepted["spectrum-peak"].pitch_hz == pytest.approx(folded, rel=1e-3)
    filtered = of_rig(rig(*changes, "front_end.part='low-pass-4-300'"), None)
    levels = [played(wave, listener).std() for listener in (bare.listener, filtered)]
    assert levels[1] < 0.05 * levels[0]  # a fourth order from 300 Hz: 27 dB at 659 Hz (Butterworth)


def test_an_ideal_input_folds_nothing() -> None:
    """7000 Hz would be seen at 1000 Hz by 8000 samples/s; it is filtered out first."""
    inside, outside = (played(tone(hz, partials=1), usual())[500:-500].std() for hz in (1000.0, 7000.0))
    assert outside < 1e-3 * inside


@pytest.mark.parametrize("loudness", [1.0, 0.001])
def test_the_loudest_half_second_has_the_level_of_the_rig(default: Scenario, loudness: float) -> None:
    """However loud the recording is: volts are gain times the rig's rms pressure."""
    listener = of_rig(default, E2)
    assert listener.ear is not None
    sound = loudness * tone(440.0, partials=1).samples * np.repeat([0.1, 1.0], 44100)
    gain = abs(listener.ear.circuit.gain(np.array([440.0]))[0])
    found = played(Wave(sound, 44100, 1, "32-bit float"), listener)[-2000:-100]
    assert found.std() == pytest.approx(gain * pressure_pa(listener.level_db_spl), rel=0.01)


def test_a_rig_clips_and_counts_in_steps(default: Scenario) -> None:
    loud = of_rig(rig("sound.level_db_spl=110.0"), E2)
    window = recorded(played(tone(E2.hz), loud)[4000:5024], loud)
    assert window.clipped_share > 0.3
    assert_allclose(window.samples, np.rint(window.samples))


def test_the_string_nearest_to_the_target_gives_its_stiffness(default: Scenario) -> None:
    a2, far, none = (of_rig(default, target) for target in (Target("A2", 110.0), Target("C8", 4186.0), None))
    assert a2.inharmonicity > 0.0
    assert of_rig(default, E2).inharmonicity > a2.inharmonicity
    assert (far.inharmonicity, none.inharmonicity) == (0.0, 0.0)


def test_without_a_target_cents_are_those_from_the_nearest_note() -> None:
    found = heard(tone(shifted(note_hz("A#2"), -20.0)), None)
    said = found.accepted["harmonic-comb"]
    assert said.note == "A#2"
    assert said.cents == pytest.approx(-20.0, abs=0.1)
    assert all(each.cents == pytest.approx(-20.0, abs=0.2) for each in found.readings if each.accepted)


def test_the_accepted_pitch_is_the_median_of_the_accepted_readings() -> None:
    found = heard(plucked(E2.hz, (0.5, 2.0)), E2)
    settled = [each.settled_hz for each in found.readings if each.accepted]
    assert found.accepted["harmonic-comb"].pitch_hz == np.median(np.array(settled, float))
    assert found.accepted["harmonic-comb"].readings == len(settled)


def test_readings_stand_at_the_centres_of_their_windows() -> None:
    found = heard(tone(E2.hz), E2)
    listener = found.listener
    expected = (np.arange(len(found.readings)) * listener.hop_samples + listener.window_samples / 2) / listener.rate_hz
    assert_allclose([each.t_s for each in found.readings], expected)


def test_plucks_are_jumps_of_the_level() -> None:
    wave = plucked(196.0, (0.4, 1.1, 2.3))
    assert_allclose(onsets(wave.samples, wave.rate_hz), (0.4, 1.1, 2.3), atol=0.01)


@pytest.mark.parametrize("hz", [41.2, 82.4, 659.3])
def test_neither_a_steady_tone_nor_slow_beats_are_plucks(hz: float) -> None:
    wave = tone(hz)
    beats = 1.0 + 0.8 * np.cos(2.0 * math.pi * 1.5 * np.arange(len(wave.samples)) / wave.rate_hz)
    assert onsets(wave.samples, wave.rate_hz) == []
    assert onsets(beats * wave.samples, wave.rate_hz) == []


def test_windows_in_an_attack_are_read_and_not_accepted() -> None:
    plucks = (0.5, 1.9)
    found = heard(plucked(E2.hz, plucks), E2)
    half, skip = found.listener.window_s() / 2.0, found.listener.skip_s
    for each in found.readings:
        clear = all(each.t_s + half <= at or each.t_s - half >= at + skip for at in plucks)
        near = any(abs(edge) < 0.02 for at in plucks for edge in (each.t_s + half - at, each.t_s - half - at - skip))
        assert near or not each.accepted or clear
    assert any(each.pitch_hz is not None and not each.accepted for each in found.readings)
    assert any(each.accepted for each in found.readings)


def test_json_has_the_keys_that_were_promised() -> None:
    found = json.loads(json.dumps(plain(heard(tone(E2.hz), E2))))
    assert {"file", "rate_hz", "target", "readings", "accepted"} <= found.keys()
    assert (found["rate_hz"], found["target"]) == (44100, "E2")
    assert list(found["readings"][0]) == ["t_s", "pitch_hz", "cents", "periodicity", "accepted", "detector"]
    assert {"pitch_hz", "cents", "readings"} <= found["accepted"]["harmonic-comb"].keys()


def test_a_rate_that_carries_no_such_target_is_refused() -> None:
    slow = replace(usual(), rate_hz=512.0)
    with pytest.raises(WaveError, match=r"512 samples/s carry at most 256 Hz; E4 is 329\.6 Hz"):
        heard(tone(329.6), Target("E4", note_hz("E4")), slow)


def test_a_recording_shorter_than_a_window_is_refused() -> None:
    with pytest.raises(WaveError, match=r"lasts 0\.2 s; one window lasts 0\.256 s"):
        heard(tone(E2.hz, seconds=0.2), E2)


def test_a_detector_that_needs_more_samples_is_named() -> None:
    short = replace(usual(), window_samples=128, hop_samples=64)
    least = math.ceil(4.0 * short.rate_hz / shifted(E2.hz, -short.acceptance.gate_cents))  # four of the longest periods
    (remark,) = heard(tone(E2.hz), E2, short).remarks
    assert remark == f"harmonic-comb hears nothing: it needs {least} samples, a window has 128."


def test_a_detector_that_raises_is_named() -> None:
    class Broken:
        def estimate(self, samples: Floats, rate_hz: float) -> Any:
            raise ZeroDivisionError("sparks")

    with pytest.raises(WaveError, match="detector own raised ZeroDivisionError: sparks"):
        hear("own.wav", tone(E2.hz), usual(), {"own": Broken()}, E2)  # type: ignore[dict-item]


# The command


Answer = tuple[int, str, str]


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("COLUMNS", "80")

    def answer(*words: object) -> Answer:
        code = main(["hear", "--wav", *map(str, words)])
        return (code, *capsys.readouterr())

    return answer


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "own.wav"


def test_an_8_bit_stereo_recording_at_96_khz(command: Any, file: Path) -> None:
    left = tone(shifted(E2.hz, 7.0), 96000, 1.0).samples
    file.write_bytes(made(np.stack([left, np.zeros_like(left)], axis=1).ravel(), bits=8, channels=2, rate_hz=96000))
    code, out, err = command(file, "--target", "E2")
    assert (code, err) == (0, "")
    assert "96000 samples/s, 8-bit, stereo (mean of both" in out
    assert "7.0 cents sharp of E2" in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 80


def test_a_rig_says_that_it_set_the_level(command: Any, file: Path) -> None:
    write(file, tone(E2.hz).samples, 44100)
    code, out, _ = command(file, "default", "--target", "E2", "--detectors", "spectrum-bin,harmonic-comb")
    assert code == 0
    said = " ".join(out.split())
    assert "converter of default: 4000 samples/s, windows of 1024 samples, 12 bits" in said
    assert "the loudest half second was set to the rig's 75 dB SPL" in said
    assert said.index("spectrum-bin: ") < said.index("harmonic-comb: ")


def test_silence_is_no_reading(command: Any, file: Path) -> None:
    write(file, np.zeros(8000), 8000)
    for rigs in ((), ("default",)):
        code, out, err = command(file, *rigs, "--target", "E2", "--detectors", "all")
        assert (code, err) == (0, "")
        assert "the recording is silent" in out
        code, out, _ = command(file, *rigs, "--json")
        assert json.loads(out)["accepted"] == {}
        assert {each["pitch_hz"] for each in json.loads(out)["readings"]} == {None}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--target", "H2"), "'H2' is not a note"),
        (("--target", "0 Hz"), "'0 Hz' is no pitch"),
        (("--target", "E8"), "8000 samples/s carry at most 4000 Hz; E8 is 5274.0 Hz"),
        (("default", "--target", "E7"), "4000 samples/s carry at most 2000 Hz; E7 is 2637.0 Hz"),
        (("--detectors", "harmonic-com"), "did you mean harmonic-comb"),
        (("--set", "converter.bits=8"), "name one, such as default"),
        (("--detector", "mine=nowhere.py:Mine"), "nowhere.py"),
        (("nowhere",), "no file and no ready rig"),
        (("--strings", "E2"), "--strings"),
    ],
)
def test_each_bad_option_has_one_line(command: Any, file: Path, words: tuple[str, ...], said: str) -> None:
    write(file, tone(E2.hz).samples, 44100)
    code, out, err = command(file, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert said in err
    assert "Traceback" not in err


@pytest.mark.parametrize("content", [b"", b"no sound", made()[:-5], made([0.1] * 100), made(np.zeros(100), 7, 8)])
def test_each_bad_file_has_one_line_that_names_it(command: Any, file: Path, content: bytes) -> None:
    file.write_bytes(content)
    code, out, err = command(file)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert err.startswith(f"{file}: ")


def test_a_user_brings_a_detector(command: Any, file: Path, tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(
        "class Own:\n    def estimate(self, samples, rate_hz):\n        return 82.5, 0.9\n"
    )
    write(file, tone(E2.hz).samples, 44100)
    code, out, _ = command(file, "--target", "E2", "--detector", f"own={tmp_path / 'own.py'}:Own", "--json")
    assert code == 0
    assert json.loads(out)["accepted"]["own"]["cents"] == pytest.approx(cents(82.5, E2.hz))


def test_out_holds_json_and_plot(command: Any, file: Path, tmp_path: Path) -> None:
    write(file, plucked(E2.hz, (0.5,)).samples, 22050)
    code, out, _ = command(file, "--target", "E2", "--json", "--out", tmp_path / "out")
    assert code == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["hear.json", "recording.png", "recording.svg"]
    assert json.loads((tmp_path / "out" / "hear.json").read_text("utf-8")) == json.loads(out)


# Words and picture


def test_the_tables_count_what_was_read() -> None:
    found = heard(plucked(E2.hz, (0.5, 2.0)), E2, None, "harmonic-comb", "zero-crossing")
    accepted, windows = tables(found)
    row = dict(zip(accepted.columns, accepted.rows[0], strict=True))
    own = [each for each in found.readings if each.detector == "harmonic-comb"]
    assert row["windows"] == str(len(own)) == str(len(windows.rows))
    assert row["heard"] == str(sum(each.pitch_hz is not None for each in own))
    assert row["accepted"] == str(sum(each.accepted for each in own))
    assert [cells[1].startswith("(") for cells in windows.rows] == [
        each.pitch_hz is not None and not each.accepted for each in own
    ]
    assert "2 plucks found" in " ".join(about(found))


@pytest.mark.parametrize(("off", "said"), [(1.0, "sharp of E2 (median of"), (-8.0, "outside ±3 cents")])
def test_the_verdict_knows_sharp_from_flat_and_in_from_out(off: float, said: str) -> None:
    found = heard(tone(shifted(E2.hz, off)), E2)
    (sentence,) = verdicts(found)
    assert said in sentence
    assert (" within " in sentence) == (abs(off) < 3.0)
    assert title(found) == [f"own.wav: {sentence.removesuffix('.')}"]


def test_the_picture_shows_readings_band_and_multiples() -> None:
    found = heard(plucked(E2.hz, (0.5, 2.0)), E2)
    pitch, spectrum = recording(found).axes
    drawn = {
        kind: [x for line in pitch.lines if line.get_gid() == kind for x in line.get_xdata()]
        for kind in ("accepted", "not accepted", "pluck")
    }
    assert drawn["accepted"] == [each.t_s for each in found.readings if each.accepted]
    assert sorted(set(drawn["pluck"])) == list(found.plucks_s)
    assert pitch.get_ylim()[1] > found.listener.tolerance_cents
    assert "cents re E2 (82.41 Hz)" in pitch.get_ylabel()
    assert "(s)" in pitch.get_xlabel()
    assert "dB" in spectrum.get_ylabel()
    assert "(Hz)" in spectrum.get_xlabel()
    multiples = [line.get_xdata()[0] for line in spectrum.lines if line.get_gid() == "multiple"]
    assert_allclose(multiples[:2], [E2.hz, 2.0 * E2.hz], rtol=1e-3)


def test_files_are_the_same_each_time_even_of_silence(tmp_path: Path) -> None:
    found = heard(Wave(np.zeros(8000), 8000, 1, "16-bit"), None)
    written = [draw(found, tmp_path / name) for name in ("one", "two")]
    assert [path.name for path in written[0]] == ["recording.svg", "recording.png"]
    assert [path.read_bytes() for path in written[0]] == [path.read_bytes() for path in written[1]]
