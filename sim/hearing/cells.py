"""From a detector's errors on a string to one cell of the study: counts, cost, latency, verdict."""

import math
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import Detector, Work
from models.hearing.acceptance import OCTAVE_CENTS, Acceptance
from models.hearing.converter import Converter
from models.hearing.listening import Listening
from models.hearing.processor import Processor
from scenarios.schema import Scenario
from sim.hearing.measured import Errors, Measured
from sim.hearing.study import Cell, Count, Latency, Verdict
from sim.series.shares import share_interval
from sim.series.statistics import quantile

GROSS_CENTS: Final = 50.0  # half a semitone: beyond, another note is heard
SELDOM: Final = 0.5  # fewer accepted readings than this share of all windows do not make an ear
LEVEL: Final = 0.95  # of the errors of accepted readings, that must lie within the tolerance


class Firmware(NamedTuple):
    """What a rig's processor is asked to do; nominal."""

    converter: Converter
    listening: Listening
    processor: Processor
    acceptance: Acceptance
    tolerance_cents: float

    def hop_s(self) -> float:
        """Return the time from one window to the next."""
        return self.listening.hop_samples / self.converter.rate_hz

    def latency(self, computing_s: float | None) -> Latency:
        """Return the way from a pluck to a valid reading."""
        return Latency(
            skip_s=self.listening.skip_s,
            window_s=self.listening.window_samples / self.converter.rate_hz,
            computing_s=computing_s,
            link_s=self.listening.link_s,
            agreement_s=(self.acceptance.readings_needed() - 1) * self.hop_s(),
        )


class Cost(NamedTuple):
    """What a detector takes of the processor; all None when it does not say."""

    ram_bytes: int | None
    cpu_s: float | None
    fits: bool | None


def firmware(scenario: Scenario) -> Firmware:
    """Return the nominal firmware of a rig that was loaded with the signal ear."""
    return Firmware(
        converter=scenario.hearing["converter"].nominal(),
        listening=scenario.hearing["listening"].nominal(),
        processor=scenario.hearing["processor"].nominal(),
        acceptance=scenario.acceptance.nominal(),
        tolerance_cents=scenario.task.tolerance_cents,
    )


def cell(name: str, detector: Detector, found: Measured, rig: Firmware) -> Cell:
    """Return one detector on one string."""
    errors, taken = found.errors[name], cost(detector, rig)
    with np.errstate(invalid="ignore"):
        gross = np.abs(errors.raw) > GROSS_CENTS
        up = np.abs(errors.raw - OCTAVE_CENTS) <= GROSS_CENTS
        down = np.abs(errors.raw + OCTAVE_CENTS) <= GROSS_CENTS
    fine = errors.raw[~gross & ~np.isnan(errors.raw)]
    accepted = np.abs(errors.accepted[~np.isnan(errors.accepted)])
    return Cell(
        string=found.facts.string,
        detector=name,
        readings=errors.raw.size,
        bias_cents=float(np.median(fine)) if fine.size else math.nan,
        std_cents=float(np.std(fine, ddof=1)) if fine.size > 1 else math.nan,
        bound_cents=found.bound_cents,
        gross=_count(gross),
        octave_up=_count(up),
        octave_down=_count(down),
        other=_count(gross & ~up & ~down),
        missed=_count(np.isnan(errors.raw)),
        latency=rig.latency(taken.cpu_s),
        ram_bytes=taken.ram_bytes,
        cpu_s=taken.cpu_s,
        fits=taken.fits,
        accepted=accepted.size,
        p95_cents=quantile(accepted, LEVEL),
        verdict=_verdict(errors, quantile(accepted, LEVEL), taken, shortfall(detector, rig), rig),
    )


def cost(detector: Any, rig: Firmware) -> Cost:
    """Return what one estimate takes; a detector without ``work`` does not say."""
    if not hasattr(detector, "work"):
        return Cost(None, None, None)
    work: Work = detector.work(rig.listening.window_samples, rig.converter.rate_hz)
    seconds = rig.processor.seconds(work)
    return Cost(rig.processor.bytes_needed(work), seconds, rig.processor.fits(work) and seconds <= rig.hop_s())


def shortfall(detector: Any, rig: Firmware) -> int:
    """Return how many samples the detector needs beyond those of a window; 0 when there are enough."""
    if not hasattr(detector, "least_samples"):
        return 0
    least: int = detector.least_samples(rig.converter.rate_hz)
    return max(0, least - rig.listening.window_samples)


def _count(flags: NDArray[np.bool_]) -> Count:
    return Count(int(np.count_nonzero(flags)), flags.size, share_interval(flags).high)


def _verdict(errors: Errors, p95_cents: float, taken: Cost, lacking: int, rig: Firmware) -> Verdict:
    if lacking:
        return "window too short"
    if taken.fits is False:
        return "does not fit"
    if np.mean(~np.isnan(errors.accepted)) < SELDOM:
        return "seldom heard"
    if p95_cents > GROSS_CENTS:
        return "gross errors"
    return "too wide" if p95_cents > rig.tolerance_cents else "serves"
