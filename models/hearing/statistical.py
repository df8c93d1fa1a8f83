"""The statistical ear: pitch averaged over the window, plus an error drawn from stated spreads."""

from typing import Annotated, Final, Literal, NamedTuple

from pydantic import Field

from models.component import NonNegative, Positive, Share, component
from models.messages import Estimate
from models.units import shifted

WILDEST_CENTS: Final = 2400.0  # no detector's range reaches further from the string it listens to


class EarDraws(NamedTuple):
    """Chance of one reading: standard normals and uniforms from 0 to 1."""

    run_normal: float
    pluck_normal: float
    reading_normal: float
    gross_uniform: float
    missed_uniform: float


@component
class StatisticalEar:
    """An ear known by its errors, not by its circuit.

    Law: ``error = run + pluck + reading * 10^((fresh - snr)/20)`` in cents, each a normal deviate, with ``snr = fresh +
    level``; the reading is the mean pitch over the window, times ``1 + clock``, rounded to the resolution. The
    drawn part is held within 2400 cents. Below the floor nothing is heard. Age of a reading on arrival: half the window
    + computing + link; at most one hop more when used.

    Fails when: the real detector errs in ways that depend on the string (body resonances, hum, neighbours); measure
    yours, or use a signal-level ear.

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

    run_cents: NonNegative
    """Standard deviation of the error that stays through a run."""

    pluck_cents: NonNegative
    """Standard deviation of the error that stays through a pluck: beats, glide, body."""

    reading_cents: NonNegative
    """Standard deviation of the error of one reading of a fresh pluck: noise."""

    fresh_snr_db: Annotated[float, Field(ge=0, le=120)]
    """Signal-to-noise ratio of a fresh pluck of usual level."""

    floor_snr_db: Annotated[float, Field(ge=-20, le=100)]
    """Signal-to-noise ratio below which nothing is heard. 6 dB is usual."""

    octave_low_share: Share
    """Share of readings an octave too low."""

    octave_high_share: Share
    """Share of readings an octave too high."""

    missed_share: Share
    """Share of readings missed although the string is loud enough."""

    resolution_hz: NonNegative
    """Step of readings: sample rate divided by window samples for a spectrum without interpolation; 0 = none."""

    clock_ppm: Annotated[float, Field(ge=-200000, le=200000)]
    """Error of the sampling clock, as it shows in readings. Crystal 30, ceramic resonator 5000."""

    def latency_s(self) -> float:
        """Return the age of a reading on arrival: half window + computing + link."""
        return self.window_s / 2.0 + self.computing_s + self.link_s

    def estimate(self, mean_hz: float | None, level_db: float, draws: EarDraws) -> Estimate:
        """Return what is made of a window whose mean pitch and level (re a usual pluck) are given; None = slack."""
        snr_db = self.fresh_snr_db + level_db
        if mean_hz is None or snr_db < self.floor_snr_db or draws.missed_uniform < self.missed_share:
            return NOT_HEARD
        fading = 10.0 ** (-level_db / 20.0)
        error = (
            self.run_cents * draws.run_normal
            + self.pluck_cents * draws.pluck_normal
            + self.reading_cents * fading * draws.reading_normal
        )
        error = max(-WILDEST_CENTS, min(WILDEST_CENTS, error)) + self._octave_cents(draws.gross_uniform)
        read = shifted(mean_hz, error) * (1.0 + self.clock_ppm * 1e-6)
        if self.resolution_hz:
            read = self.resolution_hz * max(1, round(read / self.resolution_hz))
        power = 10.0 ** (snr_db / 10.0)
        return Estimate(read, power / (1.0 + power))

    def _octave_cents(self, uniform: float) -> float:
        if uniform < self.octave_low_share:
            return -1200.0
        return 1200.0 if uniform > 1.0 - self.octave_high_share else 0.0


NOT_HEARD = Estimate(None, 0.0)
