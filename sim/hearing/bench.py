"""The bench: detectors on a rig's strings, measured, judged, with what would help."""

from collections.abc import Mapping, Sequence

from models.detectors.base import Detector
from scenarios.schema import Scenario
from sim.ears import told_by_rig
from sim.hearing.advice import advice
from sim.hearing.candidates import Kinds, breach, candidates, own_name
from sim.hearing.cells import Firmware, cell, firmware, shortfall
from sim.hearing.details import details
from sim.hearing.measured import Effort, Measured, measure
from sim.hearing.resting import SPREAD_CENTS, one_start
from sim.hearing.study import SERVES, Cell, Study
from sim.hearing.trials import Cure, best_of, cure

USUAL = Effort()


def hear(
    scenario: Scenario, *, detectors: Sequence[str] | None = None, kinds: Kinds | None = None,
    strings: Sequence[str] | None = None, seed: int = 1, effort: Effort = USUAL, detailed: bool = False,
) -> Study:  # fmt: skip
    """Return a study of detectors on a rig that was loaded with ``ear="signal"``.

    ``detectors`` are names of library parts, of a user's own ``kinds``, or ``all``; without them the usual ones. The
    rig's own comes first in any case. ``detailed`` also measures what only pictures need. Raises ``KeyError`` for an
    unknown detector or string, ``DetectorFailed`` for a user's detector that cannot be made or fails.
    """
    chosen = tuple(strings or scenario.strings)
    own, known = own_name(scenario, kinds or {}), candidates(scenario, detectors, kinds or {})
    rig = firmware(scenario)
    told = {string: _told(known, scenario, string) for string in chosen}
    measured = {string: measure(scenario, string, told[string], seed, effort) for string in chosen}
    cells = tuple(_cell for string in chosen for _cell in _cells(told[string], measured[string], rig))
    cures = [_cure(scenario, cells, own, known, string, seed) for string in _failing(cells, own)]
    return Study(
        rig=scenario.name,
        seed=seed,
        truth=scenario.task.pitch,
        tolerance_cents=scenario.task.tolerance_cents,
        own=own,
        detectors=tuple(known),
        strings={string: found.facts for string, found in measured.items()},
        cells=cells,
        remarks=(*_starts(scenario), *_remarks(known, told, rig, kinds or {})),
        advice=tuple(advice(cells, own, cures, rig.tolerance_cents)),
        details=details(scenario, chosen, seed) if detailed else None,
    )


def _told(known: Mapping[str, Detector], scenario: Scenario, string: str) -> dict[str, Detector]:
    return {name: told_by_rig(detector, scenario, string) for name, detector in known.items()}


def _cells(told: Mapping[str, Detector], found: Measured, rig: Firmware) -> list[Cell]:
    return [cell(name, detector, found, rig) for name, detector in told.items()]


def _failing(cells: Sequence[Cell], own: str) -> list[str]:
    return [each.string for each in cells if each.detector == own and each.verdict != SERVES]


def _cure(
    scenario: Scenario, cells: Sequence[Cell], own: str, known: Mapping[str, Detector], string: str, seed: int
) -> Cure:
    other = best_of([each for each in cells if each.string == string and each.detector != own])
    return cure(scenario, string, None if other is None else (other.detector, known[other.detector]), seed)


def _starts(scenario: Scenario) -> list[str]:
    told = f"All tunings of this rig begin at one pitch; here strings rest within {SPREAD_CENTS:g} cents of it."
    return [told] if one_start(scenario) else []


def _remarks(
    known: Mapping[str, Detector], told: Mapping[str, Mapping[str, Detector]], rig: Firmware, kinds: Kinds
) -> list[str]:
    breaches = [breach(name, known[name]) for name in known if name in kinds]
    short = [_too_short(name, told, rig) for name in known]
    silent = [f"{name}: has no work(), so its cost is unknown." for name in known if not hasattr(known[name], "work")]
    return [line for line in (*breaches, *short, *silent) if line]


def _too_short(name: str, told: Mapping[str, Mapping[str, Detector]], rig: Firmware) -> str | None:
    """Return in one line on which strings a detector needs a longer window."""
    lacking = {string: shortfall(known[name], rig) for string, known in told.items()}
    strings = [string for string, count in lacking.items() if count]
    if not strings:
        return None
    least = rig.listening.window_samples + max(lacking.values())
    return (
        f"{name}: needs {least} samples at {rig.converter.rate_hz:g}/s on {', '.join(strings)}; "
        f"the window has {rig.listening.window_samples}."
    )
