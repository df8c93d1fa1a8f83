"""The signal ear end to end: same key, same samples; what the detector gets; what it does not get."""

import numpy as np
import pytest

from models.units import cents
from tests.unit.models.hearing.quiet import chance, ear_of, quiet_rig, resting, window

SKIP = 300_000_000


def test_a_window_is_a_pure_function_of_its_key() -> None:
    rig = quiet_rig("room.part=living-room", "converter.jitter_us=5", "sound.second_share=0.5")
    ear, instrument = ear_of(rig), resting(rig)
    first, again = (ear.record(instrument, window(rig, SKIP), chance(rig)).samples for _ in range(2))
    assert np.array_equal(first, again)
    for other in (window(rig, SKIP, number=1),):
        assert not np.array_equal(first, ear.record(instrument, other, chance(rig)).samples)
    assert not np.array_equal(first, ear.record(instrument, window(rig, SKIP), chance(rig, run=1)).samples)


@pytest.mark.parametrize("off_cents", [-80.0, 0.0, 33.3])
def test_a_quiet_string_is_read_at_its_first_partial(off_cents: float) -> None:
    """The default detector knows the inharmonicity of the string: no bias is left (within 0.1 cents)."""
    rig = quiet_rig()
    found = ear_of(rig).listen(resting(rig, off_cents), window(rig, SKIP), chance(rig))
    assert cents(found.estimate.pitch_hz, rig.chain.string.target_hz) == pytest.approx(off_cents, abs=0.1)
    assert found.estimate.periodicity > 0.97 and not found.moving


def test_loud_sound_is_clipped_and_said_so() -> None:
    quiet, loud = (quiet_rig(f"sound.level_db_spl={level}") for level in (75, 115))
    soft, hard = (ear_of(rig).listen(resting(rig), window(rig, SKIP), chance(rig)) for rig in (quiet, loud))
    assert soft.clipped_share == 0.0 and hard.clipped_share > 0.5
    assert 0.0 < soft.peak_share < hard.peak_share <= 1.1


def test_samples_are_whole_steps_without_their_mean() -> None:
    rig = quiet_rig("converter.bits=10", "room.part=living-room")
    samples = ear_of(rig).record(resting(rig), window(rig, SKIP), chance(rig)).samples
    assert samples.shape == (1024,) and np.array_equal(samples, np.rint(samples)) and abs(samples.mean()) <= 0.5


def test_noise_has_the_power_of_its_lines_and_windows_do_not_meet_at_their_ends() -> None:
    """Parseval: the square sum of the spectral lines is the variance of the samples (within 5 % over 200 windows)."""
    rig = quiet_rig("room.part=workshop", "room.hum_db_spl=-100", "room.motor_db_spl=-100", "sound.level_db_spl=0")
    ear, instrument = ear_of(rig), resting(rig)
    rows = np.array([ear.volts(instrument, window(rig, SKIP, number), chance(rig)) for number in range(200)])
    assert np.mean(rows**2) == pytest.approx(np.sum(ear.noise_v**2), rel=0.05)
    jumps = np.mean((rows[:, 0] - rows[:, -1]) ** 2)
    assert jumps > 5.0 * np.mean(np.diff(rows, axis=1) ** 2)


def test_a_window_of_a_turn_is_marked() -> None:
    from tests.unit.models.hearing.test_scene import turned

    rig = quiet_rig("coupler.slop_deg=0")
    instrument = turned(rig, 20.0, 100.0)
    ear = ear_of(rig)
    assert ear.listen(instrument, window(rig, 100_000_000), chance(rig)).moving
    assert not ear.listen(instrument, window(rig, 700_000_000), chance(rig)).moving
