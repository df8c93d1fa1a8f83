"""Many readings of an ear on resting strings: specimens, plucks, windows in a row, and levels of plucking.

Works through the seam of every ear. A specimen's string rests within 50 cents of its target, each somewhere else, so
that errors which depend on where the pitch lies between two lines or two lags come out as a spread.
"""

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.hearing.base import Ear, Window
from models.instrument import Instrument
from models.units import cents, to_ns
from scenarios.schema import Scenario
from sim.build import Rig, build
from sim.seeds import Chance, Streams, run_key

Floats = NDArray[np.float64]

GROSS_CENTS: Final = 50.0  # an error beyond is gross: half a semitone, no spread any more
STARTS_CENTS: Final = 50.0  # how far from its target a string may rest
APART_S: Final = 30.0  # from one pluck to the next


class Sizes(NamedTuple):
    """How much is listened to at each level."""

    specimens: int
    plucks: int
    windows: int
    """In a row after each pluck."""

    def readings(self) -> int:
        """Return the readings at one level."""
        return self.specimens * self.plucks * self.windows


class Listened(NamedTuple):
    """Readings of one string; all arrays but the last have the shape (levels, specimens, plucks, windows)."""

    error_cents: Floats
    """Error re the true mean pitch of the window that the task means, without the clock's share; nan = not heard."""
    pitch_hz: Floats
    """Pitch as read; nan = not heard."""
    periodicity: Floats
    level_db: Floats
    """Level of the note in the middle of the window, re a usual fresh one."""
    since_s: Floats
    """Centres of the windows after their pluck, shape (windows,)."""

    def sound(self, limit_cents: float = GROSS_CENTS) -> Floats:
        """Return the errors with gross ones as nan."""
        return np.where(np.abs(self.error_cents) <= limit_cents, self.error_cents, np.nan)


def listened(
    scenario: Scenario, string: str, streams: Streams, sizes: Sizes, levels_db: Floats, tuning: int = 0
) -> Listened:
    """Return the readings of a rig's ear on one string at levels of plucking re the usual one, shape (levels,).

    Every level has plucks of its own; another ``tuning`` has other starts, plucks and noise on the same specimens.
    """
    each = [_specimen(scenario, string, streams, number, sizes, levels_db, tuning) for number in range(sizes.specimens)]
    error, pitch, periodicity, level = np.moveaxis(np.array(each), (4, 1), (0, 1))
    ear = build(scenario, string).ear
    centres = ear.skip_s + 0.5 * ear.window_s + ear.hop_s * np.arange(float(sizes.windows))
    return Listened(error, pitch, periodicity, level, centres)


def _specimen(
    scenario: Scenario, string: str, streams: Streams, number: int, sizes: Sizes, levels_db: Floats, tuning: int
) -> Floats:
    """Return error, pitch, periodicity and level of every reading of one specimen.

    Shape (levels, plucks, windows, 4).
    """
    rig, run = build(scenario, string, streams, number), run_key(number, tuning)
    start_cents = STARTS_CENTS * (2.0 * streams.start_uniform(string, run) - 1.0)
    instrument = Instrument({string: rig.chain}, {string: rig.begins(start_cents).angles})
    chance, found = Chance(streams, string, run), np.empty((len(levels_db), *sizes[1:], 4))
    for pluck in range(len(levels_db) * sizes.plucks):
        level, place = divmod(pluck, sizes.plucks)
        instrument.pluck(string, to_ns(APART_S * pluck), float(levels_db[level]))
        for window in range(sizes.windows):
            found[level, place, window] = _reading(rig, instrument, _window(rig, pluck, window), chance)
    return found


def _window(rig: Rig, pluck: int, number: int) -> Window:
    opens_ns = to_ns(APART_S * pluck) + to_ns(rig.ear.skip_s) + number * to_ns(rig.ear.hop_s)
    return Window(rig.string, opens_ns, opens_ns + to_ns(rig.ear.window_s), pluck, number)


def _reading(rig: Rig, instrument: Instrument, window: Window, chance: Chance) -> tuple[float, float, float, float]:
    """Return error, pitch, periodicity and level of one window."""
    estimate = rig.ear.listen(instrument, window, chance).estimate
    _, level_db = instrument.note(rig.string, window.centre_ns())
    true_hz, _ = instrument.heard_hz(rig.string, window.open_ns, window.close_ns, rig.task.pitch)
    if estimate.pitch_hz is None or true_hz is None:
        return np.nan, np.nan, estimate.periodicity, level_db
    error = cents(estimate.pitch_hz * (1.0 + clock_ppm(rig.ear) * 1e-6), true_hz)
    return error, estimate.pitch_hz, estimate.periodicity, level_db


def clock_ppm(ear: Ear) -> float:
    """Return how much the clock of an ear runs fast."""
    part: Any = getattr(ear, "converter", ear)
    return float(part.clock_ppm)
