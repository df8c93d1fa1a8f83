"""Detectors on the windows of many plucks: every window is recorded once and shown to all of them."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.detectors.base import Detector
from models.hearing.acceptance import Acceptance, Accepting
from models.hearing.base import Heard
from models.messages import Estimate
from models.units import CENTS_PER_OCTAVE, cents
from scenarios.schema import Scenario
from sim.build import build
from sim.hearing.candidates import DetectorFailed
from sim.hearing.resting import PLUCK, Resting, Take, resting
from sim.hearing.study import StringFacts
from sim.seeds import Streams

Floats = NDArray[np.float64]

NOTHING_CENTS: Final = 1e6  # bound of a window in which nothing sounds any more
MOST_ALLOWED: Final = 500  # windows of one pluck that are looked at


class Effort(NamedTuple):
    """How much is measured on each string."""

    specimens: int = 20
    plucks: int = 5
    """Of each specimen, each at a fresh start."""
    windows: int = 4
    """Of each pluck at most."""


class Errors(NamedTuple):
    """One detector's errors in cents re the truth, both of shape (specimens, readings)."""

    raw: Floats
    """nan = not heard."""
    accepted: Floats
    """nan = not accepted."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What was found on one string."""

    facts: StringFacts
    bound_cents: float
    """Root mean square over the windows."""
    errors: Mapping[str, Errors]
    """By detector."""


class _Reader(NamedTuple):
    """A detector with the doubts of the rig."""

    detector: Detector
    acceptance: Acceptance

    def read(self, pluck: Resting, takes: Sequence[Take]) -> list[tuple[float, float]]:
        """Return raw and accepted error of each window of a pluck."""
        target_hz = pluck.rig.chain.string.target_hz
        accepting, off_cents = Accepting(self.acceptance, target_hz), cents(pluck.truth_hz, target_hz)
        found = []
        for take in takes:
            estimate = self._estimate(take, pluck.ear.converter.rate_hz)
            heard = Heard(estimate, False, take.recorded.peak_share, take.recorded.clipped_share)
            accepted = accepting.take(heard, PLUCK)
            found.append((pluck.error_cents(estimate.pitch_hz), math.nan if accepted is None else accepted - off_cents))
        return found

    def _estimate(self, take: Take, rate_hz: float) -> Estimate:
        try:
            found = Estimate(*self.detector.estimate(take.recorded.samples, rate_hz))
        except Exception as error:  # a user's detector may raise whatever it likes
            raise DetectorFailed(f"{type(self.detector).__name__}.estimate: {type(error).__name__}: {error}") from error
        if found.pitch_hz is not None and not 0.0 < found.pitch_hz < math.inf:
            raise DetectorFailed(f"{type(self.detector).__name__}.estimate: a pitch of {found.pitch_hz} Hz is none")
        return found


def measure(scenario: Scenario, string: str, detectors: Mapping[str, Detector], seed: int, effort: Effort) -> Measured:
    """Return what detectors, told what the firmware knows, make of a rig's string; equal arguments, equal result."""
    plucks = plucked(scenario, string, seed, effort)
    allowed = _allowed(plucks, _least_periodicity(scenario, detectors))
    windows = effort.windows if allowed is None else min(effort.windows, max(1, allowed))
    readers = {name: _Reader(detector, plucks[0].rig.acceptance) for name, detector in detectors.items()}
    pairs: dict[str, list[list[tuple[float, float]]]] = {name: [] for name in readers}
    for pluck in plucks:
        takes = [pluck.take(number) for number in range(windows)]
        for name, reader in readers.items():
            pairs[name].append(reader.read(pluck, takes))
    shaped = {name: np.array(found).reshape(effort.specimens, -1, 2) for name, found in pairs.items()}
    errors = {name: Errors(both[..., 0], both[..., 1]) for name, both in shaped.items()}
    return _with_facts(plucks, windows, allowed, errors)


def plucked(scenario: Scenario, string: str, seed: int, effort: Effort) -> list[Resting]:
    """Return the plucks of all specimens, specimen by specimen."""
    streams = Streams(seed)
    rigs = [build(scenario, string, streams, specimen) for specimen in range(effort.specimens)]
    return [
        resting(scenario, rig, streams, specimen, tuning)
        for specimen, rig in enumerate(rigs)
        for tuning in range(effort.plucks)
    ]


def _least_periodicity(scenario: Scenario, detectors: Mapping[str, Detector]) -> float:
    """Return the periodicity below which acceptance, or else every detector, hears nothing."""
    acceptance: Acceptance = scenario.acceptance.nominal()
    accepted = acceptance.least_periodicity if "periodicity" in acceptance.stages() else 0.0
    heard = min((float(getattr(each, "least_periodicity", 0.0)) for each in detectors.values()), default=0.0)
    return max(accepted, heard)


def _allowed(plucks: Sequence[Resting], least_periodicity: float) -> int | None:
    """Return how many windows a usual pluck allows: until SNR/(1 + SNR) at a window's centre falls below the least."""
    if least_periodicity <= 0.0:
        return None
    return int(np.median([_windows_above(pluck, least_periodicity) for pluck in plucks]))


def _windows_above(pluck: Resting, periodicity: float) -> int:
    centres_s = np.array([pluck.centre_s(number) for number in range(MOST_ALLOWED)])
    snr = 10.0 ** (pluck.tones().snr_db(centres_s) / 10.0)
    return int(np.count_nonzero(snr / (1.0 + snr) >= periodicity))


def _with_facts(plucks: Sequence[Resting], windows: int, allowed: int | None, errors: Mapping[str, Errors]) -> Measured:
    centres = [(pluck, pluck.tones(), pluck.centre_s(number)) for pluck in plucks for number in range(windows)]
    expected = [tones.expected(centre_s) for _, tones, centre_s in centres]
    target_hz = plucks[0].rig.chain.string.target_hz
    above_first = float(np.mean([cents(pluck.truth_hz, pluck.first_hz) for pluck in plucks]))
    facts = StringFacts(
        string=plucks[0].rig.string,
        target_hz=target_hz,
        cents_per_hz=cents(target_hz + 1.0, target_hz),
        pluck_readings=allowed,
        snr_db=float(np.median([each.snr_db for each in expected])),
        inharmonic_cents=float(np.mean([each.inharmonic_cents for each in expected])) - above_first,
        glide_cents=float(np.mean([pluck.glide_cents(centre_s) for pluck, _, centre_s in centres])),
        clock_cents=float(np.mean([_clock_cents(pluck) for pluck in plucks])),
    )
    bounds = np.array([each.bound_cents for each in expected])
    return Measured(facts, float(np.sqrt(np.mean(np.minimum(bounds, NOTHING_CENTS) ** 2))), errors)


def _clock_cents(pluck: Resting) -> float:
    """Return what a clock adds: one that runs fast reads low."""
    return float(-CENTS_PER_OCTAVE * np.log2(pluck.ear.converter.true_hz() / pluck.ear.converter.rate_hz))
