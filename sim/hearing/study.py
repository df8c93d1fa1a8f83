"""What a study of hearing found, as plain numbers and arrays: what tables, plots and JSON are made of.

Errors are in cents re the task's pitch (first partial or effective) of the resting string, positive = sharp; the glide
after a pluck is therefore part of a bias. A *gross* error is heard and more than 50 cents off.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Verdict = Literal["serves", "too wide", "gross errors", "seldom heard", "window too short", "does not fit"]
SERVES: Final = "serves"


@dataclass(frozen=True, slots=True)
class Count:
    """How often something happened, with the upper end of its 95 % interval over specimens."""

    count: int
    of: int
    high: float | None
    """Largest share that is still plausible; None where chance cannot tell."""


@dataclass(frozen=True, slots=True)
class Latency:
    """Seconds from a pluck to the first valid reading, in the order in which they pass."""

    skip_s: float
    window_s: float
    computing_s: float | None
    """None when the detector does not say what it costs."""
    link_s: float
    agreement_s: float
    """Hops until enough readings can agree; 0 when one is enough."""

    def total_s(self) -> float:
        """Return the sum; computing counts as 0 when it is unknown."""
        return self.skip_s + self.window_s + (self.computing_s or 0.0) + self.link_s + self.agreement_s


@dataclass(frozen=True, slots=True)
class Cell:
    """One detector on one string."""

    string: str
    detector: str
    readings: int
    """Windows that were measured."""
    bias_cents: float
    """Median of the errors that are not gross; nan without any."""
    std_cents: float
    """Plain standard deviation of the errors that are not gross; nan with fewer than two."""
    bound_cents: float
    """Cramer-Rao bound of the pitch of all partials below half the rate, root mean square over the windows."""
    gross: Count
    octave_up: Count
    octave_down: Count
    other: Count
    """Gross and no octave."""
    missed: Count
    """Not heard at all."""
    latency: Latency
    ram_bytes: int | None
    cpu_s: float | None
    fits: bool | None
    """Whether memory suffices and computing ends within a hop; None when the detector does not say what it costs."""
    accepted: int
    """Readings that the rig's acceptance let pass."""
    p95_cents: float
    """95th percentile of ``|error|`` of accepted readings; nan without any."""
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class StringFacts:
    """What is so on a string, whatever the detector. The three predictions add up to the bias of a period detector."""

    string: str
    target_hz: float
    cents_per_hz: float
    """What 1 Hz is in cents at the target."""
    pluck_readings: int | None
    """Windows that a usual pluck allows until its periodicity falls too low; None where nothing asks for any."""
    snr_db: float
    """Median over windows: string over noise behind circuit and converter."""
    inharmonic_cents: float
    """How sharp of the task's pitch a period over all partials reads: partials weighted by ``(n A)^2``."""
    glide_cents: float
    """Mean of the glide at the centres of the windows."""
    clock_cents: float
    """Mean over the specimens of what their clocks add: a fast clock reads low."""


@dataclass(frozen=True, slots=True)
class LongPluck:
    """One pluck of one string, listened to until it has died away, by the rig's own detector."""

    string: str
    seconds: Floats
    """Centres of windows after the pluck, shape (windows,)."""
    error_cents: Floats
    """Raw errors, nan where nothing was heard, shape (windows,)."""
    accepted: NDArray[np.bool_]
    """Whether a window by itself passes the acceptance, shape (windows,)."""
    snr_db: Floats
    """String over noise in each window, shape (windows,)."""
    true_seconds: Floats
    """Shape (instants,)."""
    glide_cents: Floats
    """True pitch without beats, shape (instants,)."""
    true_cents: Floats
    """Momentary pitch of the first partial, both polarisations together: glide and beats, shape (instants,)."""


@dataclass(frozen=True, slots=True)
class NoiseRow:
    """The rig's own detector on one string over noise levels; arrays of one shape (levels,), noise rising."""

    string: str
    noise_scale: Floats
    """Noise over the rig's own."""
    snr_db: Floats
    """Median over windows."""
    std_cents: Floats
    """Standard deviation of what noise changes: each reading less that of the same window without noise, in windows
    where neither is gross; nan with fewer than two."""
    bound_cents: Floats
    """Cramer-Rao bound, root mean square."""
    gross_share: Floats
    """Share of windows with a gross error or nothing heard."""
    floor_cents: float
    """Standard deviation of the errors without noise: glide, beats, clock and the detector's own."""


@dataclass(frozen=True, slots=True)
class SpectrumView:
    """The Hann spectrum of one window, and where its partials ended up; the second shape is (partials,)."""

    string: str
    rate_hz: float
    hz: Floats
    """Shape (lines,)."""
    level_db: Floats
    """Re the strongest line, shape (lines,)."""
    search_hz: tuple[float, float] | None
    """Where the detector searches; None = everywhere."""
    partials: NDArray[np.int_]
    """Their true numbers."""
    true_hz: Floats
    seen_hz: Floats
    """After folding at half the rate."""
    partial_db: Floats
    """Expected level, re the strongest partial."""


@dataclass(frozen=True, slots=True)
class Details:
    """What only pictures need."""

    long_pluck: LongPluck
    noise: tuple[NoiseRow, ...]
    spectrum: SpectrumView


@dataclass(frozen=True, slots=True)
class Study:
    """Detectors on the strings of a rig, measured, judged, with advice."""

    rig: str
    seed: int
    truth: str
    """Which pitch errors are measured against: first-partial or effective."""
    tolerance_cents: float
    own: str
    """Name of the rig's own detector; it comes first."""
    detectors: tuple[str, ...]
    strings: Mapping[str, StringFacts]
    """By string, in order."""
    cells: tuple[Cell, ...]
    """String by string, detectors in order."""
    remarks: tuple[str, ...]
    """What could not be measured, a line each."""
    advice: tuple[str, ...]
    details: Details | None = None

    def cell(self, string: str, detector: str) -> Cell:
        """Return one cell. Raises ``KeyError`` when there is none."""
        for cell in self.cells:
            if (cell.string, cell.detector) == (string, detector):
                return cell
        raise KeyError((string, detector))


def plain(study: Study) -> dict[str, Any]:
    """Return a study as JSON has it; without details."""
    return {
        "rig": study.rig,
        "seed": study.seed,
        "truth": study.truth,
        "cells": [_plain_cell(cell, study.strings[cell.string]) for cell in study.cells],
        "advice": list(study.advice),
    }


def _plain_cell(cell: Cell, facts: StringFacts) -> dict[str, Any]:
    return {
        "string": cell.string,
        "detector": cell.detector,
        "readings": cell.readings,
        "bias_cents": cell.bias_cents,
        "std_cents": cell.std_cents,
        "bound_cents": cell.bound_cents,
        "gross": _plain_count(cell.gross),
        "octave_up": _plain_count(cell.octave_up),
        "octave_down": _plain_count(cell.octave_down),
        "missed": _plain_count(cell.missed),
        "latency_s": cell.latency.total_s(),
        "ram_bytes": cell.ram_bytes,
        "cpu_s": cell.cpu_s,
        "fits": cell.fits,
        "accepted": cell.accepted,
        "p95_cents": cell.p95_cents,
        "verdict": cell.verdict,
        "cents_per_hz": facts.cents_per_hz,
        "pluck_readings": facts.pluck_readings,
    }


def _plain_count(count: Count) -> dict[str, Any]:
    return {"count": count.count, "of": count.of, "high": count.high}
