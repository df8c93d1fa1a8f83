"""When the ear listens: the timing of windows, as firmware sets it."""

from typing import Annotated

from pydantic import Field

from models.component import NonNegative, component


@component
class Listening:
    """Windows of samples after a pluck.

    Law: the first window opens ``skip_s`` after the pluck and lasts ``window_samples / rate``; the next opens
    ``hop_samples / rate`` later. Age of a reading on arrival: half the window + computing + link.

    Fails when: the window is longer than the note rings, or so short that the detector sees too few periods.

    Source: common practice; see its part.
    """

    skip_s: Annotated[float, Field(ge=0, le=30)]
    """Time after the pluck that is not listened to. 0.06 s keep the attack out, 0.3 s most of the glide too."""

    window_samples: Annotated[int, Field(ge=16, le=65536)]
    """Samples of a window. A power of two suits a Fourier transform."""

    hop_samples: Annotated[int, Field(ge=1, le=65536)]
    """Samples from the start of one window to the next. Half a window is usual."""

    link_s: NonNegative
    """Time to hand a reading to the controller. 20 characters at 115200 baud take 1.7 ms."""
