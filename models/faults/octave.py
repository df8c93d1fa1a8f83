"""The detector takes another partial for the pitch."""

from typing import Any, ClassVar

from models.component import Share, component
from models.faults.base import Fault, Message, Moment, Seam, heard_at


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
        return heard_at(message, 0.5), state


@component
class OctaveHigh(Fault):
    """A pitch is read an octave too high.

    Law: ``f_read = 2 f``.

    Fails when: the acceptance refuses it, because it lies outside the range that a string can have.

    Source: second partial taken for the first, common practice.
    """

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the estimate at twice its pitch."""
        del moment
        return heard_at(message, 2.0), state


@component
class Clipping(Fault):
    """A microphone that is driven too hard raises the upper partials, and now and then the octave wins.

    Law: ``f_read = 2 f`` on three readings in ten.

    Fails when: clipping is symmetric and the detector looks at periods: pitch then hardly suffers.

    Source: odd distortion of a limited signal; the share is an estimate.
    """

    probability: Share = 0.3
    """Share of readings that it spoils, 0 to 1. Count octaves in a recording that clips."""

    seam: ClassVar[Seam] = "estimate"

    def apply(self, message: Message, state: Any, moment: Moment) -> tuple[Message, Any]:
        """Return the estimate at twice its pitch."""
        del moment
        return heard_at(message, 2.0), state
