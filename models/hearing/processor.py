"""The processor: what an estimate costs in time and memory."""

import math
from typing import Annotated

from pydantic import Field

from models.component import NonNegative, Positive, component
from models.detectors.base import Work


@component
class Processor:
    """A processor, known by its clock, its memory and what it takes for the three things that detectors do.

    Law: ``t = (c_b butterflies + c_m multiplies + c_f functions) / clock``; memory = words times bytes of a word.

    Fails when: other work shares the processor, memory is slower than its core, or the code is written less well
    than the one that was measured.

    Source: cycle counts of its part, scaled from published times of Fourier transforms.
    """

    clock_mhz: Positive
    """Clock of the core. From the board."""

    memory_bytes: Annotated[int, Field(ge=16)]
    """Working memory left for hearing. Data sheet, less what the rest of the firmware uses."""

    cycles_per_butterfly: Positive
    """Cycles for one of the N log2 N units of a transform. Time a transform and divide."""

    cycles_per_multiply: Positive
    """Cycles for one multiply-accumulate with its loads. About 30 in 16 bits on an 8-bit processor."""

    cycles_per_function: NonNegative
    """Cycles for one division, root, logarithm or angle. Time a thousand of them."""

    bytes_per_word: Annotated[int, Field(ge=1, le=8)]
    """Bytes of one sample in memory: 2 for 16-bit arithmetic, 4 for float."""

    def seconds(self, work: Work) -> float:
        """Return how long an estimate takes."""
        cycles = (
            self.cycles_per_butterfly * work.butterflies
            + self.cycles_per_multiply * work.multiplies
            + self.cycles_per_function * work.functions
        )
        return cycles / (self.clock_mhz * 1e6)

    def bytes_needed(self, work: Work) -> int:
        """Return the memory that an estimate occupies."""
        return math.ceil(work.words * self.bytes_per_word)

    def fits(self, work: Work) -> bool:
        """Return whether an estimate fits into the memory."""
        return self.bytes_needed(work) <= self.memory_bytes
