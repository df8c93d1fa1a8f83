"""One pluck of one string at rest, and the windows that an ear opens on it."""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from models.hearing.base import Window
from models.hearing.signal import Recorded, SignalEar
from models.instrument import Instrument
from models.units import CENTS_PER_OCTAVE, cents, to_ns
from scenarios.schema import Range, Scenario
from sim.build import Rig, start_cents
from sim.hearing.expected import Tones, tones
from sim.seeds import Chance, Streams, run_key

PLUCK = 0  # each tuning is plucked once
SPREAD_CENTS = 50.0  # about a start that is one pitch, so that no detector is judged by one place between its bins


class Take(NamedTuple):
    """One window as the converter hands it over, and where its centre lies after the pluck."""

    recorded: Recorded
    centre_s: float


@dataclass(frozen=True, slots=True)
class Resting:
    """One specimen's string at rest, plucked once by the player."""

    rig: Rig
    ear: SignalEar
    instrument: Instrument
    chance: Chance
    struck_ns: int
    level_db: float
    first_hz: float
    """First partial of the resting string."""
    truth_hz: float
    """What the task means by pitch, of the resting string."""

    def take(self, number: int) -> Take:
        """Record the window that firmware opens as the pluck's ``number``-th, from 0."""
        return self.take_from(number, self.ear.skip_s + number * self.ear.hop_s)

    def take_from(self, number: int, opens_s: float) -> Take:
        """Record a window that opens so long after the pluck; ``number`` keys its noise."""
        opens_ns = self.struck_ns + to_ns(opens_s)
        window = Window(self.rig.string, opens_ns, opens_ns + to_ns(self.ear.window_s), PLUCK, number)
        recorded = self.ear.record(self.instrument, window, self.chance)
        return Take(recorded, opens_s + self.ear.window_s / 2.0)

    def centre_s(self, number: int) -> float:
        """Return where the centre of a window lies after the pluck."""
        return self.ear.skip_s + number * self.ear.hop_s + self.ear.window_s / 2.0

    def tones(self) -> Tones:
        """Return what the converter meets of this pluck."""
        return tones(self.ear, self.first_hz, self.level_db, self.chance.sound(PLUCK))

    def glide_cents(self, since_s: float) -> float:
        """Return how far above its rest the pitch is, so long after the pluck."""
        return float(CENTS_PER_OCTAVE * np.log2(self.ear.scene.voice.sound.glide(np.array(since_s))))

    def error_cents(self, pitch_hz: float | None) -> float:
        """Return an estimate's error; nan for None."""
        return float("nan") if pitch_hz is None else cents(pitch_hz, self.truth_hz)

    def with_noise(self, scale: float) -> "Resting":
        """Return the same pluck with the circuit's and the room's noise scaled."""
        return replace(self, ear=replace(self.ear, noise_scale=scale))


def one_start(scenario: Scenario) -> bool:
    """Return whether all tunings of a rig begin at one pitch."""
    return not isinstance(scenario.setting.values["start_cents"], Range)


def _rest_cents(scenario: Scenario, string: str, streams: Streams, specimen: int, tuning: int) -> float:
    """Return where a string rests: at its start, or about a start that is one pitch."""
    start = start_cents(scenario, string, streams, specimen, tuning)
    if not one_start(scenario):
        return start
    return start + SPREAD_CENTS * (2.0 * streams.start_uniform(string, run_key(specimen, tuning)) - 1.0)


def resting(scenario: Scenario, rig: Rig, streams: Streams, specimen: int, tuning: int) -> Resting:
    """Return one tuning's string at the pitch where it begins, plucked once at a time and a level by chance."""
    string, ear = rig.string, rig.ear
    assert isinstance(ear, SignalEar)
    begins = rig.begins(_rest_cents(scenario, string, streams, specimen, tuning)).angles
    chance = Chance(streams, string, run_key(specimen, tuning))
    time_normal, level_normal = chance.pluck(PLUCK)
    struck_ns, level_db = to_ns(rig.player.pluck_time_s(time_normal)), rig.player.level_spread_db * level_normal
    instrument = Instrument({string: rig.chain}, {string: begins})
    instrument.pluck(string, struck_ns, level_db)
    strung, tension_n = rig.chain.string, begins.speaking_n
    first_hz = strung.first_partial_hz(tension_n)
    truth_hz = first_hz if scenario.task.pitch == "first-partial" else strung.effective_hz(tension_n)
    return Resting(rig, ear, instrument, chance, struck_ns, level_db, first_hz, truth_hz)
