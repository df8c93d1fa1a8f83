"""Climate: string and body warm up or cool down in a run, each at its own pace."""

import math
from typing import Annotated

from pydantic import Field

from models.component import Positive, component

Kelvin = Annotated[float, Field(ge=-60, le=60)]
Expansion = Annotated[float, Field(ge=-100, le=200)]


@component
class Climate:
    """Temperature of string and body on the way to a new one.

    Law: each changes by ``change (1 - exp(-t / pace))``; strain ``expansion_body dT_body - expansion_string dT_string``
    is added to the string's, and ``EA`` times it to its tension. The sign follows from the two expansions.

    Fails when: the string is nylon or gut, whose stiffness changes with temperature: published sensitivities of nylon
    strings differ in sign (Lynch-Aird & Woodhouse, Materials 10, 497, 2017). Humidity, which moves wood more, is left
    out.

    Source: thermal expansion; steel about 12 ppm/K, wood along the grain 3 to 5 ppm/K (materials tables).
    """

    string_change_k: Kelvin
    """What the string's temperature will change by, positive = warmer. Hands and lamps warm strings first."""

    body_change_k: Kelvin
    """The same of neck and body. From a cold car into a room: 10 to 20."""

    string_expansion_ppm_k: Expansion
    """Relative growth of the string per kelvin. From a materials table."""

    body_expansion_ppm_k: Expansion
    """The same of neck and body, along the strings. Wood along the grain 3 to 5."""

    string_pace_s: Positive
    """Time in which the string covers 63 % of its change. Seconds for a plain string in moving air."""

    body_pace_s: Positive
    """The same of the body. Many minutes."""

    def is_steady(self) -> bool:
        """Return whether nothing changes."""
        return self.string_change_k == self.body_change_k == 0.0

    def strain(self, seconds: float) -> float:
        """Return the strain added since the start; below 0 = the string goes flat."""
        body_k = -self.body_change_k * math.expm1(-seconds / self.body_pace_s)
        string_k = -self.string_change_k * math.expm1(-seconds / self.string_pace_s)
        return 1e-6 * (self.body_expansion_ppm_k * body_k - self.string_expansion_ppm_k * string_k)
