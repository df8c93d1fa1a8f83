"""A statistical ear from readings: known ears come back, the file is read as it was written, sameness can fail."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from models.hearing.base import EarDraws
from scenarios.load import load_rig, load_text
from scenarios.schema import Range
from sim.cli import hear_fit, main
from sim.hearing import fit
from sim.hearing.listened import Listened, Sizes
from sim.hearing.sameness import Cell, Difference, cells, differences, worst
from sim.seeds import Streams
from sim.views.fitted import trust
from tests.loop.rigs import EAR

KNOWN = {
    "bias_cents": 1.5, "glide_cents": 4.0, "glide_run_cents": 0.7, "run_cents": 0.6, "pluck_cents": 0.8,
    "wander_cents": 0.4, "reading_cents": 0.1, "fresh_snr_db": 38.0, "floor_snr_db": 5.0, "missed_share": 0.05,
    "octave_low_share": 0.03, "periodicity_most": 0.97,
}  # fmt: skip
SIZES = Sizes(100, 2, 3)
FITS = 8


def known(**values: float):
    """Return the default rig with a statistical ear of known errors on its strings."""
    changes = [f"ear.{key}={value}" for key, value in {**KNOWN, "clock_ppm": 5000.0, **values}.items()]
    return load_rig("default", changes=[*changes, 'instrument.strings=["E4"]'])


@pytest.fixture(scope="module")
def fits() -> list[dict[str, float]]:
    """Return the values of fits to one known ear with different seeds."""
    scenario = known()
    return [dict(fit.fitted(scenario, "E4", Streams(seed), SIZES).values) for seed in range(FITS)]


@pytest.mark.parametrize("name", [name for name in KNOWN if name != "floor_snr_db"])
def test_what_a_known_ear_is_made_of_comes_back(fits: list[dict[str, float]], name: str) -> None:
    """Independent fits scatter about the truth: Student's t of 7 degrees at 99.9 % is 5.4 standard errors."""
    found = np.array([each[name] for each in fits])
    assert abs(found.mean() - KNOWN[name]) <= 5.4 * found.std(ddof=1) / math.sqrt(FITS) + 1e-3
    assert found.std(ddof=1) <= max(0.3 * KNOWN[name], 0.4)  # and they say something


def test_the_floor_comes_back_as_finely_as_levels_are_tried(fits: list[dict[str, float]]) -> None:
    assert np.mean([each["floor_snr_db"] for each in fits]) == pytest.approx(KNOWN["floor_snr_db"], abs=3.0)


def test_the_clock_is_no_error_of_the_ear(fits: list[dict[str, float]]) -> None:
    """5000 ppm are 8.6 cents: they are left to the clock and not counted as bias or spread."""
    assert all(abs(each["bias_cents"] - KNOWN["bias_cents"]) < 1.5 and each["clock_ppm"] == 5000.0 for each in fits)


def test_timing_is_the_ears_own() -> None:
    values, ear = fit.fitted(known(), "E4", Streams(1), Sizes(4, 1, 1)).values, known().ears["E4"].nominal()
    assert [values[name] for name in ("window_s", "hop_s", "skip_s", "computing_s", "link_s", "glide_s")] == [
        ear.window_s, ear.hop_s, ear.skip_s, ear.computing_s, ear.link_s, ear.glide_s,
    ]  # fmt: skip


def test_readings_on_lines_are_known_by_their_distance() -> None:
    """A window of 0.25 s has lines 4 Hz apart; read at lines of a spectrum padded to twice its length, 2 Hz."""
    assert fit.resolution_hz(np.array([84.0, 80.0, np.nan, 440.0]), 0.25) == 4.0
    assert fit.resolution_hz(np.array([84.0, 82.0, 440.0]), 0.25) == 2.0
    assert fit.resolution_hz(np.array([84.0, 82.0, 440.1]), 0.25) == 0.0
    assert fit.resolution_hz(np.array([np.nan]), 0.25) == 0.0


def test_an_ear_that_reads_lines_has_its_step_and_no_spread() -> None:
    values = fit.fitted(known(resolution_hz=1 / 0.256), "E4", Streams(1), Sizes(20, 2, 2)).values
    assert values["resolution_hz"] == 1 / 0.256
    assert [values[name] for name in ("run_cents", "pluck_cents", "wander_cents", "reading_cents")] == [0.0] * 4


def test_an_ear_that_hears_nothing_is_fitted_as_that() -> None:
    values = fit.fitted(known(missed_share=1.0), "E4", Streams(1), Sizes(4, 2, 2)).values
    assert values["missed_share"] == 1.0
    assert math.isfinite(values["bias_cents"]) and values["run_cents"] == 0.0


def test_balanced_moments_are_those_of_the_analysis_of_variance() -> None:
    """Searle, Casella & McCulloch 1992, section 3.6: mean squares of a nested design in closed form."""
    specimens, plucks, windows = 5, 4, 3
    x = np.random.default_rng(1).normal(size=(specimens, plucks, windows)) + np.arange(specimens)[:, None, None]
    of_pluck, of_specimen = x.mean(axis=2), x.mean(axis=(1, 2))
    reading = ((x - of_pluck[..., None]) ** 2).sum() / (specimens * plucks * (windows - 1))
    pluck = windows * ((of_pluck - of_specimen[:, None]) ** 2).sum() / (specimens * (plucks - 1))
    specimen = plucks * windows * ((of_specimen - x.mean()) ** 2).sum() / (specimens - 1)
    found = fit.moments(x)
    assert found.reading == pytest.approx(reading, rel=1e-9)
    assert found.pluck - found.reading == pytest.approx((pluck - reading) / windows, rel=1e-9)
    assert found.specimen - found.pluck == pytest.approx((specimen - pluck) / (plucks * windows), rel=1e-9)


def test_moments_do_without_missing_readings() -> None:
    """Differences 2 within the pluck that has two readings; 3 and 1 to the other pluck: 2^2/2, (3^2 + 1^2)/4."""
    found = fit.moments(np.array([[[5.0, np.nan, 3.0], [np.nan, 2.0, np.nan]]]))
    assert found[:2] == pytest.approx((2.0, 2.5))
    assert math.isnan(found.specimen)


def test_periodicity_tells_noise_and_what_is_lost_without_it() -> None:
    level = np.array([0.0, -10.0, -20.0]).reshape(3, 1, 1, 1)
    power = 10.0 ** ((30.0 + level) / 10.0)
    scan = Listened(0.0 * level, 100.0 + 0.0 * level, 0.95 * power / (1.0 + power), level, np.array([0.4]))
    assert fit.purity_of(scan) == pytest.approx((0.95, 30.0), rel=1e-9)


def test_floor_lies_where_half_is_heard() -> None:
    level = np.array([0.0, -10.0, -20.0]).reshape(3, 1, 1, 1) + np.zeros((3, 4, 1, 1))
    error = np.zeros((3, 4, 1, 1))
    error[2, :3] = np.nan  # a quarter is heard at -20 dB, all at -10 dB: half at -20 + 10/3
    scan = Listened(error, error, error, level, np.array([0.4]))
    assert fit.floor_snr_db(scan, 30.0) == pytest.approx(10.0 + 10.0 / 3.0)


def test_what_lies_below_the_floor_is_not_missed() -> None:
    """Missed counts what is loud enough: of 4 readings above -15 dB one, whatever is silent below."""
    level = np.array([0.0, -10.0, -20.0]).reshape(3, 1, 1, 1) + np.zeros((3, 2, 1, 1))
    error = np.array([0.0, np.nan, 0.0, 0.0, np.nan, np.nan]).reshape(3, 2, 1, 1)
    main = Listened(error, error, error, level, np.array([0.4]))
    assert fit.missed_share(main, -15.0) == 0.25
    assert fit.missed_share(main, 5.0) == 1.0  # nothing is loud enough


def test_levels_end_above_noise_and_floor() -> None:
    assert fit.levels_db(38.0, 1.0, 3).tolist() == [0.0, -10.0, -20.0]  # 18 dB above the noise
    assert fit.levels_db(38.0, 16.0, 2).tolist() == [0.0, -10.0]  # 12 dB above the floor
    assert fit.levels_db(10.0, 5.0, 2).tolist() == [0.0, 0.0]  # too noisy for softer plucks
    assert fit.levels_db(120.0, -20.0, 2)[-1] == fit.LOWEST_DB


def test_readings_that_never_differ_agree_with_themselves() -> None:
    """All on one line of a spectrum: nothing is left to correlate, and two such ears are alike."""
    still = np.arange(20.0)[:, None, None] + np.zeros((20, 2, 3))
    assert differences(still, [still])[2][1:4] == (0.0, 0.0, 0.0)


def test_wandering_and_noise_add_as_squares() -> None:
    still, noisy = (EarDraws(0.0, 0.0, normal, 0.5, 0.5) for normal in (0.0, 1.0))
    ear = replace(EAR, wander_cents=3.0, reading_cents=0.4)
    low, high = (ear.estimate(100.0, -20.0, 0.5, draws).pitch_hz for draws in (still, noisy))
    assert 1200.0 * math.log2(high / low) == pytest.approx(5.0, rel=1e-6)  # 3 and 0.4 * 10


def test_the_file_is_read_back_as_it_was_fitted(tmp_path: Path) -> None:
    scenario = load_rig("default", changes=["ear.clock_ppm={ low = -50, high = 70.5 }"])
    ears = {string: fit.fitted(scenario, string, Streams(1), Sizes(4, 2, 2)) for string in scenario.strings}
    (tmp_path / "measured.toml").write_text(fit.to_toml(scenario, ears, 1, Sizes(4, 2, 2)), encoding="utf-8")
    read = load_text('format = 1\n[ear]\nfile = "measured.toml"\n', str(tmp_path / "rig.toml"))
    for string, part in ears.items():
        assert dict(read.ears[string].values) == dict(part.values)
        assert read.ears[string].sources["run_cents"] == "measured, measured.toml"
    assert read.ears["E2"].values["clock_ppm"] == Range(-50.0, 70.5)


def test_the_file_says_where_it_comes_from() -> None:
    scenario = known()
    text = fit.to_toml(scenario, {}, 17, Sizes(4, 2, 3), levels=3)
    assert all(word in text for word in ("pegloop", "seed 17", "72 readings", "4 specimens", "'default'"))
    other = fit.to_toml(load_rig("default", changes=["ear.run_cents=9"]), {}, 17, Sizes(4, 2, 3), levels=3)
    assert [line for line in text.split("\n") if "data" in line] != [
        line for line in other.split("\n") if "data" in line
    ]


def verdicts(changed: dict[str, float]) -> set[str]:
    """Return the verdicts on an ear of known errors when one that differs in some of them is held against it."""
    scenario = known(octave_low_share=0.0)
    ears = {"E4": known(**{"octave_low_share": 0.0, **changed}).ears["E4"]}
    found = cells(scenario, ears, "E4", Streams(5), Sizes(250, 2, 3), levels=1)
    return {each.measure for cell in found for each in cell.differences if each.verdict() == "different"} | {
        worst([cell.verdict() for cell in found])
    }


def test_an_ear_is_the_same_as_itself() -> None:
    assert verdicts({}) == {"same"}


@pytest.mark.parametrize(
    ("changed", "measure"),
    [
        ({name: 1.5 * KNOWN[name] for name in ("run_cents", "pluck_cents", "wander_cents", "reading_cents")}, "spread"),
        ({"pluck_cents": 0.0, "wander_cents": math.hypot(0.8, 0.4)}, "correlation"),
        ({"bias_cents": 2.5}, "bias"),
        ({"missed_share": 0.15}, "failed"),
    ],
)
def test_an_ear_that_differs_in_one_thing_is_told_by_it(changed: dict[str, float], measure: str) -> None:
    assert verdicts(changed) == {measure, "different"}


def test_same_means_inside_the_margin_and_not_unproven() -> None:
    """Sameness is an interval inside a margin: a wide interval about no difference proves nothing."""
    wide, inside, outside = (
        Difference("bias", 0.0, low, high, (-0.5, 0.5)) for low, high in ((-2.0, 2.0), (-0.4, 0.5), (0.6, 0.9))
    )
    assert [each.verdict() for each in (wide, inside, outside)] == ["unclear", "same", "different"]
    assert worst(["same", "unclear"]) == "unclear"


@pytest.mark.parametrize(
    ("low", "high", "words"), [(-0.1, 0.1, "All 1 cells"), (-2.0, 2.0, "none is different"), (0.6, 0.9, "--ear signal")]
)
def test_whoever_fits_is_told_whether_to_trust(low: float, high: float, words: str) -> None:
    cell = Cell("E4", -20.0, 1000, (Difference("bias", 0.0, low, high, (-0.5, 0.5)),))
    assert words in trust([cell])
    assert ("E4 at -20 dB" in trust([cell])) == (cell.verdict() == "different")


def test_few_specimens_leave_failures_open() -> None:
    """0 of 20 leaves up to 1 - 0.05^(1/20) = 13.9 % (rule of three: Hanley & Lippman-Hand 1983)."""
    error = np.random.default_rng(1).normal(size=(20, 2, 3))
    failed = differences(error, [error])[3]
    assert (failed.low, failed.high) == pytest.approx((-0.1391, 0.1391), abs=1e-4)
    assert failed.verdict() == "unclear"


def test_the_command_writes_a_new_ear_and_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(fit, "SCAN", Sizes(2, 1, 1))
    monkeypatch.setattr(hear_fit, "SPECIMENS", 3)
    monkeypatch.setattr(hear_fit, "FRESH_SPECIMENS", 3)
    words = ["hear", "default", "--fit", str(tmp_path / "new.toml"), "--strings", "E4", "--quiet"]
    assert main([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["file"].endswith("new.toml") and found["ears"]["E4"]["hears"] == "first-partial"
    assert {cell["string"] for cell in found["sameness"]} == {"E4"}
    before = (tmp_path / "new.toml").read_bytes()
    assert main(words) == 2
    assert "exists already" in capsys.readouterr().err
    assert (tmp_path / "new.toml").read_bytes() == before
