"""Who listens to a recording: usual firmware with an ideal input, or a rig's own circuit, converter and firmware."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

from models.detectors.base import Detector, told
from models.hearing.acceptance import Acceptance
from models.hearing.signal import SignalEar
from models.strings.vibration import inharmonicity
from models.units import cents, target_hz
from scenarios import library
from scenarios.schema import Part, Scenario

IDEAL_HZ: Final = 8000.0  # rate without a rig: ten samples in a period up to 800 Hz, where lag detectors end
NEAR_CENTS: Final = 600.0  # half an octave: a string further from the target lends it no inharmonicity


class Target(NamedTuple):
    """What the recorded string should be."""

    name: str
    hz: float


@dataclass(frozen=True, slots=True)
class Listener:
    """Timing, beliefs and circuit of who listens."""

    rig: str | None
    """Name of the rig; None for usual firmware with an ideal input."""
    rate_hz: float
    """Samples a second that the detectors are given."""
    window_samples: int
    hop_samples: int
    skip_s: float
    """Time after a pluck that is not believed."""
    acceptance: Acceptance
    a4_hz: float
    tolerance_cents: float
    inharmonicity: float
    """What the firmware believes of the string; 0 where it does not know which one it hears."""
    ear: SignalEar | None = None
    level_db_spl: float = 0.0
    """Of a usual fresh pluck, for an ear."""

    def window_s(self) -> float:
        """Return the length of a window."""
        return self.window_samples / self.rate_hz


def usual() -> Listener:
    """Return usual firmware of the library behind an ideal input: its window lasts as long at a rate of its own."""
    listening, converter = _library("listening").nominal(), _library("converter").nominal()
    scale = IDEAL_HZ / converter.rate_hz
    return Listener(
        rig=None,
        rate_hz=IDEAL_HZ,
        window_samples=round(scale * listening.window_samples),
        hop_samples=round(scale * listening.hop_samples),
        skip_s=listening.skip_s,
        acceptance=_library("acceptance").nominal(),
        a4_hz=440.0,
        tolerance_cents=_library("task").nominal().tolerance_cents,
        inharmonicity=0.0,
    )


def of_rig(scenario: Scenario, target: Target | None) -> Listener:
    """Return the nominal ear of a rig that was loaded with ``ear="signal"``, on the string nearest to the target."""
    from sim.build import build
    from sim.specimen import as_built

    built = {name: as_built(scenario, name, lambda key: 0.5) for name in scenario.strings}
    first = next(iter(built))
    string = min(built, key=lambda name: abs(cents(built[name].target_hz, target.hz))) if target else first
    ear, strung = build(scenario, string).ear, built[string]
    assert isinstance(ear, SignalEar)
    near = target is not None and abs(cents(strung.target_hz, target.hz)) <= NEAR_CENTS
    return Listener(
        rig=scenario.name,
        rate_hz=ear.converter.rate_hz,
        window_samples=ear.listening.window_samples,
        hop_samples=ear.listening.hop_samples,
        skip_s=ear.listening.skip_s,
        acceptance=scenario.acceptance.nominal(),
        a4_hz=scenario.setting.nominal().a4_hz,
        tolerance_cents=scenario.task.tolerance_cents,
        inharmonicity=inharmonicity(strung.bending_n, strung.tension_at_hz(strung.target_hz)) if near else 0.0,
        ear=ear,
        level_db_spl=scenario.sounds[string].nominal().level_db_spl,
    )


def target_of(text: str, a4_hz: float) -> Target:
    """Return a target from a note or hertz. Raises ``ValueError`` for anything else."""
    return Target(text, target_hz(text, a4_hz))


def aimed(detector: Detector, listener: Listener, target: Target | None) -> Detector:
    """Return a detector that was told inharmonicity and, with a target and a gate, where to search."""
    search = listener.acceptance.search_hz(target.hz) if target else None
    known: Mapping[str, Any] = {} if search is None else {"lowest_hz": search[0], "highest_hz": search[1]}
    found: Detector = told(detector, inharmonicity=listener.inharmonicity, **known)
    return found


def without_target(acceptance: Acceptance) -> Acceptance:
    """Return an acceptance without the stages that need a target."""
    stages = [stage for stage in acceptance.stages() if stage not in ("gate", "fold")]
    return replace(acceptance, order=" ".join(stages))


def _library(section: str) -> Part:
    found = library.part(section, library.default(section))
    values = {key: sourced.value for key, sourced in found.values.items()}
    return Part(section, library.component_class(section, found.kind), values, {})
