"""The two ends of a supply: as fresh and as used up as the rig lets it be."""

from typing import Final

from models.messages import Source
from scenarios.schema import Scenario
from sim.specimen import Draw

CHARGE: Final = "supply.charge_share"


def at_charge(draw: Draw, share: float) -> Draw:
    """Return ``draw`` with the supply's charge at a place in its range: 0 = used, 1 = fresh."""
    return lambda key: share if key == CHARGE else draw(key)


def sources(scenario: Scenario, draw: Draw) -> tuple[Source, Source]:
    """Return what a motor sees of the fresh and of the used supply; the same twice where it does not tire."""
    fresh, used = (scenario.supply.drawn(at_charge(draw, share)).source(0.0) for share in (1.0, 0.0))
    return fresh, used
