"""The statistical ear: pitch averaged over the window, plus an error drawn from stated spreads."""

import math
from typing import Annotated, Final, Literal

from pydantic import Field

from models.component import NonNegative, Positive, Share, component
from models.hearing.base import EarChance, EarDraws, Heard, Window
from models.instrument import Instrument
from models.messages import Estimate
from models.units import shifted

WILDEST_CENTS: Final = 2400.0  # no detector's range reaches further from the string it listens to
PEAK_SHARE: Final = 0.5  # a statistical ear is well within its converter's range


@component
class StatisticalEar:
    """An ear known by its errors, not by its circuit.

    Law: ``error = bias + run + (glide + its run) exp(-t/tau) + pluck + rest`` in cents; run, pluck and rest are normal
    deviates, the glide's run goes with the run, ``rest^2`` is on average ``wander^2 + reading^2 10^(-level/10)``,
    ``snr = fresh + level``, ``t`` runs from the pluck to the window's centre. What is read is the mean pitch over the
    window, times ``1 - clock``, rounded to the resolution; some readings are octaves off or lie anywhere. Errors are
    held within 2400 cents. Below the floor nothing is heard. Age of a reading on arrival: half the window + computing +
    link; at most one hop more when used.

    Fails when: the real detector errs in ways that its spreads do not show (body resonances, hum, neighbours): let
    ``pegloop hear --fit`` measure the signal ear, string by string.

    Source: spreads of its part; error growth with noise after the Cramer-Rao bound of a tone (Rife & Boorstyn 1974).
    """

    hears: Literal["first-partial", "effective"]
    """What the detector locks to: the first partial (spectral peak), or the period of the whole sound (effective)."""

    window_s: Positive
    """Length of the window that a reading is made from. Samples divided by sample rate."""

    hop_s: Positive
    """Time from the start of one window to the next while listening on."""

    skip_s: NonNegative
    """Time after the pluck that is not listened to. 0.06 s or more keeps the attack out."""

    computing_s: NonNegative
    """Time to compute a reading. Measure on your processor."""

    link_s: NonNegative
    """Time to hand the reading to the controller. 20 characters at 115200 baud take 1.7 ms."""

    bias_cents: Annotated[float, Field(ge=-100, le=100)]
    """Error that every machine has on this string: inharmonicity that the detector does not know. 0 for none."""

    glide_cents: Annotated[float, Field(ge=-200, le=200)]
    """How far sharp a pluck is heard at its very start, beyond its rest; it dies away. 0 for none."""

    glide_run_cents: NonNegative
    """Standard deviation of the glide from run to run: other strings and hands glide more or less."""

    glide_s: Positive
    """Time constant in which the glide dies away."""

    run_cents: NonNegative
    """Standard deviation of the error that stays through a run."""

    pluck_cents: NonNegative
    """Standard deviation of the error that stays through a pluck: beats, glide, body."""

    wander_cents: NonNegative
    """Standard deviation of the error that changes from reading to reading without any noise: beats, rounding."""

    reading_cents: NonNegative
    """Standard deviation of the error that noise adds to one reading of a fresh pluck."""

    fresh_snr_db: Annotated[float, Field(ge=0, le=120)]
    """Signal-to-noise ratio of a fresh pluck of usual level."""

    floor_snr_db: Annotated[float, Field(ge=-20, le=100)]
    """Signal-to-noise ratio below which nothing is heard. 6 dB is usual."""

    octave_low_share: Share
    """Share of readings an octave too low."""

    octave_high_share: Share
    """Share of readings an octave too high."""

    wild_share: Share
    """Share of readings that lie anywhere within ``wild_cents``."""

    wild_cents: Annotated[float, Field(gt=0, le=WILDEST_CENTS)]
    """How far off such readings may lie, evenly."""

    missed_share: Share
    """Share of readings missed although the string is loud enough."""

    periodicity_most: Share
    """Periodicity of a pluck without noise: below 1 by decay and inharmonicity. 0.985 is usual, 1 is ideal."""

    resolution_hz: NonNegative
    """Step of readings: sample rate divided by window samples for a spectrum without interpolation; 0 = none."""

    clock_ppm: Annotated[float, Field(ge=-200000, le=200000)]
    """How much the sampling clock runs fast, so that readings are low. Crystal 30, ceramic resonator 5000."""

    def listen(self, instrument: Instrument, window: Window, chance: EarChance) -> Heard:
        """Return what is heard in a window that has closed."""
        string, centre_ns = window.string, window.centre_ns()
        mean_hz, moving = instrument.heard_hz(string, window.open_ns, window.close_ns, self.hears)
        since_s, level_db = instrument.note(string, centre_ns)
        draws = chance.reading(window.pluck, window.number)
        return Heard(self.estimate(mean_hz, level_db, since_s, draws), moving, PEAK_SHARE, 0.0)

    def estimate(self, mean_hz: float | None, level_db: float, since_s: float, draws: EarDraws) -> Estimate:
        """Return what is made of a window so long after a pluck.

        ``mean_hz`` is its mean pitch, None if the string was slack; ``level_db`` is the note's level re a usual pluck.
        """
        snr_db = self.fresh_snr_db + level_db
        if mean_hz is None or snr_db < self.floor_snr_db or draws.missed_uniform < self.missed_share:
            return NOT_HEARD
        fading = 10.0 ** (-level_db / 20.0)
        gliding = math.exp(-since_s / self.glide_s)
        error = (
            self.bias_cents
            + self.glide_cents * gliding
            + (self.run_cents + self.glide_run_cents * gliding) * draws.run_normal
            + self.pluck_cents * draws.pluck_normal
            + math.hypot(self.wander_cents, self.reading_cents * fading) * draws.reading_normal
        )
        error = self._gross(max(-WILDEST_CENTS, min(WILDEST_CENTS, error)), draws.gross_uniform)
        read = shifted(mean_hz, error) / (1.0 + self.clock_ppm * 1e-6)
        if self.resolution_hz:
            read = self.resolution_hz * max(1, round(read / self.resolution_hz))
        power = 10.0 ** (snr_db / 10.0)
        return Estimate(read, self.periodicity_most * power / (1.0 + power))

    def _gross(self, error: float, uniform: float) -> float:
        """Return an error, or the gross one that a uniform draw stands for: octaves at its ends, wild beside them."""
        if uniform < self.octave_low_share:
            return error - 1200.0
        if uniform > 1.0 - self.octave_high_share:
            return error + 1200.0
        beyond = uniform - self.octave_low_share
        if beyond < self.wild_share:
            return self.wild_cents * (2.0 * beyond / self.wild_share - 1.0)
        return error


NOT_HEARD = Estimate(None, 0.0)
