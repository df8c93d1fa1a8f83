"""The detector takes another partial for the pitch."""

from typing import Any, ClassVar

from models.component import component
from models.faults.base import Fault, Message, Moment, Seam
from models.messages import Estimate


@component
class OctaveLow(Fault):
    """A pitch is read an octave too low.

    Law: ``f_read = f / 2``.

    Fails when: the acceptance refuses it, because it lies outside the range that a string can have.

    Source: sub-harmonic error of period detectors, common practice.
    """

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the estimate at half its pitch."""
        del moment
        assert isinstance(message, Estimate)
        return halved(message, 2.0), state


def halved(estimate: Estimate, divisor: float) -> Estimate:
    """Return an estimate with its pitch divided; one that heard nothing stays so."""
    return estimate if estimate.pitch_hz is None else estimate._replace(pitch_hz=estimate.pitch_hz / divisor)
