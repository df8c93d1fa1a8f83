"""Random streams in which machines are crossed: one unknown taken from another machine, all else kept.

A row of the design has two machines, A and B. Column 0 is A, column 1 is B, column ``2 + i`` is A with factor ``i`` of
B. The last factor is all that is no listed key: each tuning's own chance. A specimen's number says row and column, so
that a run stays a pure function of scenario, item and seed.

Source: pick-freeze design of Saltelli et al. 2010 (Computer Physics Communications 181, 259).
"""

from dataclasses import dataclass

import numpy as np

from sim.seeds import COLOUR, SPECIMEN, START, Streams

START_KEY = "instrument.start_cents"
OF_SPECIMEN = (SPECIMEN, COLOUR)
"""Purposes whose streams know no tuning."""


def factor_of(key: str) -> str:
    """Return what a drawn key counts as: strings draw for themselves, and count together."""
    bare = key.rpartition(" ")[2]
    return f"strings.*.{bare.split('.')[2]}" if bare.startswith("strings.") else bare


@dataclass(frozen=True, slots=True)
class Crossed:
    """A seed whose machines are crossed in some factors."""

    seed: int
    factors: tuple[str, ...]
    """Keys as ``factor_of`` names them."""

    @property
    def columns(self) -> int:
        """Machines of a row: A, B, one for each factor, and one for chance."""
        return len(self.factors) + 3

    def streams(self) -> Streams:
        """Return the streams."""
        return _CrossedStreams(self)


class _CrossedStreams(Streams):
    def __init__(self, crossed: Crossed) -> None:
        super().__init__(crossed.seed)
        self._columns = crossed.columns
        self._places = {factor: place for place, factor in enumerate(crossed.factors)}
        self._chance = len(crossed.factors)

    def at(self, purpose: int, name: str, run: int = 0, block: int = 0) -> np.random.Generator:
        """Return the generator at the start of the stream of the machine that this factor comes from."""
        tuned = purpose not in OF_SPECIMEN
        specimen, tuning = divmod(run, 1 << 32) if tuned else (run, 0)
        row, column = divmod(specimen, self._columns)
        other = column == 1 or column - 2 == self._factor(purpose, name)
        machine = 2 * row + other
        return super().at(purpose, name, (machine << 32) | tuning if tuned else machine, block)

    def _factor(self, purpose: int, name: str) -> int:
        if purpose == SPECIMEN:
            return self._places.get(factor_of(name), self._chance)
        return self._places.get(START_KEY, self._chance) if purpose == START else self._chance
