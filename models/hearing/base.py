"""What an ear is: a window of the plant's time in, what was heard in it out. Two ears, one seam.

An ear knows its own timing in seconds: ``skip_s`` after a pluck, ``window_s``, ``hop_s`` to the next window while it
listens on, ``computing_s`` and ``link_s`` until the controller has the reading.
"""

from typing import TYPE_CHECKING, NamedTuple, Protocol

from models.instrument import Instrument
from models.messages import Estimate

if TYPE_CHECKING:
    import numpy as np


class Window(NamedTuple):
    """A window that an ear listens to, in whole nanoseconds of the run's clock."""

    string: str
    open_ns: int
    close_ns: int
    pluck: int
    """Number of the pluck that it follows, from 0."""
    number: int
    """Number of the reading since that pluck, from 0."""

    def centre_ns(self) -> int:
        """Return the instant in its middle."""
        return self.open_ns + (self.close_ns - self.open_ns) // 2


class Heard(NamedTuple):
    """What an ear makes of one window."""

    estimate: Estimate
    moving: bool
    """Whether the drive train moved while the window was open."""
    peak_share: float
    """Largest sample as a share of half the converter's range."""
    clipped_share: float
    """Share of the samples that met a limit of the circuit or of the converter."""


class EarDraws(NamedTuple):
    """Chance of one reading of a statistical ear: standard normals and uniforms from 0 to 1."""

    run_normal: float
    pluck_normal: float
    reading_normal: float
    gross_uniform: float
    missed_uniform: float


class EarChance(Protocol):
    """Chance as ears need it, keyed by pluck and reading (both from 0) and not by the order of asking."""

    def reading(self, pluck: int, number: int) -> EarDraws:
        """Return the numbers of one reading."""

    def sound(self, pluck: int) -> "np.random.Generator":
        """Return the stream of a pluck's sound, at its start; use it at once."""

    def noise(self, pluck: int, number: int) -> "np.random.Generator":
        """Return the stream of the noise in one window, at its start; use it at once."""


class Ear(Protocol):
    """An ear on one string of a rig."""

    @property
    def skip_s(self) -> float:
        """Time after the pluck that is not listened to."""

    @property
    def window_s(self) -> float:
        """Length of a window."""

    @property
    def hop_s(self) -> float:
        """Time from the start of one window to that of the next."""

    @property
    def computing_s(self) -> float:
        """Time to compute a reading."""

    @property
    def link_s(self) -> float:
        """Time to hand the reading to the controller."""

    def listen(self, instrument: Instrument, window: Window, chance: EarChance) -> Heard:
        """Return what is heard in a window that has closed."""


def latency_s(ear: Ear) -> float:
    """Return the age of a reading on arrival: half the window + computing + link."""
    return ear.window_s / 2.0 + ear.computing_s + ear.link_s
