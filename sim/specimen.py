"""A string as one specimen has it: its unknowns drawn, on its post."""

from collections.abc import Callable
from dataclasses import replace

from models.head.base import TuningHead
from models.strings.tension import Strung, strung
from models.units import target_hz
from scenarios.schema import Scenario

Draw = Callable[[str], float]
"""0 to 1 for the dotted key of an unknown."""


def as_built(scenario: Scenario, string: str, own: Draw, give_m_n: float = 0.0) -> Strung:
    """Return a string on its post and on a body that gives way; ``own`` draws the unknowns of this string."""
    part = scenario.strings[string].drawn(own)
    head: TuningHead = scenario.heads[string].drawn(own)
    radius_mm = head.winding_radius_mm(part.gauge_mm)
    built = strung(part, radius_mm, target_hz(part.target, scenario.setting.nominal().a4_hz))
    return replace(built, stiffness_n_m=1.0 / (1.0 / built.stiffness_n_m + give_m_n)) if give_m_n else built
