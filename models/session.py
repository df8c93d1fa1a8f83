"""A session: how one machine comes to all strings of an instrument, one after the other."""

import math
from typing import Annotated

from pydantic import Field

from models.component import NonNegative, component


@component
class Session:
    """All strings in an order, again and again, until a whole pass finds every string within the tolerance.

    Law: each visit of a string is a tuning of its own that begins with listening. A carried drive is gripped anew at
    each visit, with a slop position by chance; a drive of its own stays on its peg and knows where it stands.

    Fails when: strings pull so hard on each other that passes do not converge: ``most_passes`` then ends it.

    Source: tuning in passes is common practice; times are estimates, see its part.
    """

    carried: bool
    """Whether a hand carries one drive from peg to peg; false = each peg has its own."""

    carry_s: NonNegative
    """Median time to carry the drive to the next peg and grip it; 0 where it need not be carried. Take the time."""

    most_passes: Annotated[int, Field(ge=1, le=50)]
    """Passes after which the session ends anyway. Players need two to four (common practice)."""

    def carry_time_s(self, normal: float, spread: float) -> float:
        """Return the time of one carrying for a standard normal draw, log-normal about the median."""
        return self.carry_s * math.exp(spread * normal)
