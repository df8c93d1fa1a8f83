"""Readings take longer than the machine counts on."""

from typing import Annotated, ClassVar

from pydantic import Field

from models.component import component
from models.faults.base import Built, Fault, Seam


@component
class LateReadings(Fault):
    """Every reading arrives later than it should.

    Law: ``arrival = usual arrival + extra_s``.

    Fails when: the delay grows with the load of the processor; here it is constant.

    Source: estimate: a second window and a slow link.
    """

    extra_s: Annotated[float, Field(ge=0, le=1000)] = 0.5
    """What is added to the delay. Time a reading from pluck to command."""

    seam: ClassVar[Seam] = "reading"

    def alter(self, built: Built) -> Built:
        """Return the specimen with late readings."""
        return built._replace(delay_s=built.delay_s + self.extra_s)
