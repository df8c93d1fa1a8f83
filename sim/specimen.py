"""A string as one specimen has it: its unknowns drawn, on its post."""

from collections.abc import Callable

from models.head.base import TuningHead
from models.strings.tension import Strung, strung
from models.units import target_hz
from scenarios.schema import Scenario

Draw = Callable[[str], float]
"""0 to 1 for the dotted key of an unknown."""


def as_built(scenario: Scenario, string: str, own: Draw) -> Strung:
    """Return a string on its post; ``own`` draws the unknowns of this string."""
    part = scenario.strings[string].drawn(own)
    head: TuningHead = scenario.heads[string].drawn(own)
    return strung(part, head.winding_radius_mm(part.gauge_mm), target_hz(part.target, scenario.setting.nominal().a4_hz))
