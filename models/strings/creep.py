"""Creep: a new string goes on stretching after it was tuned, and falls."""

import math

from models.component import NonNegative, Positive, component


@component
class Creep:
    """How a string settles under tension.

    Law: ``cents(t) = -cents_per_decade log10(1 + t / onset_s)`` from the start of the run: as much in the second minute
    as in the second hour, by ten times the time.

    Fails when: the string is tightened far during the run, which begins a settling of its own; and over weeks, in which
    strings end to settle.

    Source: logarithmic settling is an estimate from what is told of strings: nylon takes hours or days (French et al.,
    Initial Behavior of Nylon Guitar Strings, Savart Journal), plain steel several hours.
    """

    cents_per_decade: NonNegative
    """Fall of pitch while the time grows tenfold; 0 = settled. Tune a new string, note cents after 10 and 100 min."""

    onset_s: Positive
    """Time since the string came under tension when the run starts. A minute for a string just put on."""

    def is_over(self) -> bool:
        """Return whether the string is settled."""
        return self.cents_per_decade == 0.0

    def cents(self, seconds: float) -> float:
        """Return the change of pitch at the target since the start, 0 or below."""
        return -self.cents_per_decade * math.log10(1.0 + seconds / self.onset_s)
