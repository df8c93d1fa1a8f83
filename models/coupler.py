"""The coupler: grips the knob, is turned by the motor, has slop, and owns re-gripping."""

from typing import Annotated

from pydantic import Field

from models.component import component


@component
class Coupler:
    """A socket or claw on the knob.

    Law: ``knob = play(knob, shaft, slop/2)``. A turn beyond the motor's travel is made in strokes: the hand takes the
    coupler off, the motor goes back, the coupler goes on again with a slop position by chance.

    Fails when: it slips on the knob; slipping torque is not in here.

    Source: measured by hand on printed parts is common practice; the range of its part says who estimated it.
    """

    slop_deg: Annotated[float, Field(ge=0, le=90)]
    """Free turn between shaft and knob. Hold the knob and wiggle the motor's horn."""

    regrip: bool
    """Whether a hand may take it off and on again when the motor's travel is used up."""
