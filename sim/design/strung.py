"""Strings of a whole specimen at pitch: each held by a body that all the others pull on too."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from models.body import Coupling
from scenarios.schema import Scenario
from sim.build import Rig, build
from sim.specimen import Draw, as_built

if TYPE_CHECKING:
    from sim.seeds import Streams


def taut(
    scenario: Scenario, strings: Iterable[str], streams: "Streams | None" = None, specimen: int = 0
) -> dict[str, Rig]:
    """Return these strings of one specimen, all its others taut; without streams of the nominal one."""

    def shared(key: str) -> float:
        return 0.5 if streams is None else streams.uniform(key, specimen)

    gives = gives_m_n(scenario, shared)
    return {name: build(scenario, name, streams, specimen, gives[name]) for name in strings}


def gives_m_n(scenario: Scenario, shared: Draw) -> dict[str, float]:
    """Return how far the body gives way per force of each string, all others taut."""

    def stiffness_n_m(string: str) -> float:
        return as_built(scenario, string, lambda key: shared(f"{string} {key}")).stiffness_n_m

    stiffness = {string: stiffness_n_m(string) for string in scenario.strings}
    coupling = Coupling(scenario.body.drawn(shared).compliance_um_per_n * 1e-6, stiffness)
    return {string: coupling.give_m_n(string, stiffness) for string in stiffness}
