"""Which detectors a study looks at: the rig's own, parts of the library, and a user's own classes."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from models.detectors.base import Detector
from models.detectors.checks import check_detector
from scenarios import library
from scenarios.schema import Part, Scenario

SHOWN: Final = ("spectrum-bin", "spectrum-peak", "harmonic-product", "square-difference-far", "least-squares")
"""What a study shows beside the rig's own: how far each step of care goes."""
ALL: Final = "all"
OWN: Final = "own"  # name of a rig's detector that is neither in the library nor given by name

Kinds = Mapping[str, type[Any]]
"""A user's own classes by name."""


class DetectorFailed(ValueError):
    """A user's detector cannot be made, or fails on a window; one line says how."""


def own_name(scenario: Scenario, kinds: Kinds) -> str:
    """Return the name of the rig's detector: of the part it equals, or of the user's class that it is."""
    part = scenario.hearing["detector"]
    for name, kind in kinds.items():
        if part.kind is kind:
            return name
    known = library.part_names()["detector"]
    return next((name for name in known if _from_library(name) == part.nominal()), OWN)


def candidates(scenario: Scenario, wanted: Sequence[str] | None, kinds: Kinds) -> dict[str, Detector]:
    """Return detectors by name, the rig's own first; ``wanted`` None = the usual ones and all of the user's.

    Raises ``KeyError`` for a name that nobody knows, ``DetectorFailed`` for a user's class that needs
    parameters.
    """
    own = own_name(scenario, kinds)
    every = library.part_names()["detector"]
    names = (*SHOWN, *kinds) if wanted is None else every if ALL in wanted else tuple(wanted)
    found: dict[str, Detector] = {own: scenario.hearing["detector"].nominal()}
    for name in names:
        if name not in found:
            found[name] = _users(name, kinds[name]) if name in kinds else _from_library(name)
    return found


def known_names(kinds: Kinds) -> tuple[str, ...]:
    """Return every name that may be asked for."""
    return (*library.part_names()["detector"], *kinds, ALL)


def as_part(detector: Detector) -> Part:
    """Return a detector as the part of a rig."""
    names = getattr(detector, "__dataclass_fields__", {})
    return Part("detector", type(detector), {name: getattr(detector, name) for name in names}, {})


def breach(name: str, detector: Detector) -> str | None:
    """Return in one sentence how a user's detector breaks the contract; None if it keeps it."""
    try:
        check_detector(detector)
    except AssertionError as error:
        return f"{name}: {error}."
    return None


def _from_library(name: str) -> Detector:
    part = library.part("detector", name)
    values = {key: each.value for key, each in part.values.items()}
    found: Detector = Part("detector", library.component_class("detector", part.kind), values, {}).nominal()
    return found


def _users(name: str, kind: type[Any]) -> Detector:
    try:
        found: Detector = kind()
    except Exception as error:  # a user's class may raise whatever it likes
        first = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise DetectorFailed(f"{name}: cannot be made without parameters ({first}); give it defaults") from error
    return found
