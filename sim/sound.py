"""A scenario with its faults left out, as a key: the variants of a fault series share all that they have in common."""

from dataclasses import fields, replace

from scenarios.schema import Scenario

APART = frozenset({"faults", "name"})


class Sound:
    """A scenario without faults; equal to another when all parts but faults and name are the same objects."""

    def __init__(self, scenario: Scenario) -> None:
        self._scenario = scenario
        self._key = tuple(id(getattr(scenario, each.name)) for each in fields(scenario) if each.name not in APART)

    def scenario(self) -> Scenario:
        """Return the scenario without its faults."""
        return replace(self._scenario, faults={})

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sound) and other._key == self._key

    def __hash__(self) -> int:
        return hash(self._key)
