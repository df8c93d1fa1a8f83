"""What passes between rooms: frozen messages, and the task that both sides of the loop know.

Angles are degrees of the motor's shaft, positive = tightening. Times are seconds since the start of the run. Commands
are frozen dataclasses, so that a turn never equals a spin; what is made by the thousand are named tuples.
"""

from dataclasses import dataclass
from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from models.component import component


@component
class Task:
    """What the machine is asked to do with one string.

    Law: in tune is the truth, ``|true error| <= tolerance`` of an unbroken string; finished is the machine's belief.

    Fails when: the tolerance is narrower than what the ear can tell apart; the run then ends by luck or by a limit.

    Source: tolerance 1 to 5 cents is common practice; just noticeable differences are 3 to 9 cents.
    """

    tolerance_cents: Annotated[float, Field(gt=0, le=100)]
    """Largest error that still counts as in tune. Your own wish; 3 is usual for practice."""

    finish_readings: Annotated[int, Field(ge=1, le=20)]
    """Readings in a row inside the tolerance, with no move between, after which the machine stops."""

    time_limit_s: Annotated[float, Field(gt=0, le=3600)]
    """Seconds after which a run counts as unfinished."""

    pluck_limit: Annotated[int, Field(ge=1, le=500)]
    """Plucks after which a run counts as unfinished."""

    pitch: Literal["first-partial", "effective"]
    """Which pitch the target means: the first partial, or the one that a period detector hears."""


class Estimate(NamedTuple):
    """What an ear makes of one window: a pitch or None for not heard, and a periodicity from 0 to 1."""

    pitch_hz: float | None
    periodicity: float


class Reading(NamedTuple):
    """What the controller gets for one window, heard or not."""

    pitch_hz: float | None
    """Pitch as read; None = not heard (never 0 Hz)."""
    cents: float | None
    """Pitch error as read, None when not heard."""
    periodicity: float
    """0 (noise) to 1 (pure)."""
    centre_s: float
    """Centre of the window."""
    arrival_s: float
    """When the controller got it."""
    moving: bool
    """Whether the motor turned while the window was open."""
    pluck: int
    """Number of the pluck that it heard, from 1."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Turn the shaft by an angle; replaces a turn in progress."""

    angle_deg: float


@dataclass(frozen=True, slots=True)
class Spin:
    """Turn the shaft at a speed until told otherwise."""

    speed_deg_s: float


@dataclass(frozen=True, slots=True)
class Stop:
    """Stop the motor and listen on."""


@dataclass(frozen=True, slots=True)
class Listen:
    """Leave the motor as it is and wait for the next reading."""


@dataclass(frozen=True, slots=True)
class Pluck:
    """Stop the motor and ask the player for a fresh pluck."""


@dataclass(frozen=True, slots=True)
class Done:
    """The string is believed to be in tune."""


@dataclass(frozen=True, slots=True)
class GiveUp:
    """The controller sees no way on."""

    reason: str


Command = Turn | Spin | Stop | Listen | Pluck | Done | GiveUp

LISTEN = Listen()
STOP = Stop()
PLUCK = Pluck()
DONE = Done()


class Source(NamedTuple):
    """What feeds a motor: an open-circuit voltage behind a resistance."""

    voltage_v: float
    resistance_ohm: float


class Load(NamedTuple):
    """Torque that resists the shaft in one direction, up to the next event of the drive train.

    ``torque(x) = torque_nm + slope_nm_per_deg * x`` for ``x`` degrees turned in that direction, ``0 <= x <= room_deg``.
    """

    torque_nm: float
    slope_nm_per_deg: float
    room_deg: float


Ending = Literal["reached", "stalled", "travel end", "next event"]


class Piece(NamedTuple):
    """One stretch of a motion in closed form, ``t`` seconds after its start.

    ``angle(t) = start + final t + (speed - final) (1 - exp(-rate t)) / rate`` (``start + speed t`` for rate 0): the
    speed goes from ``speed`` towards ``final``. Torque is a straight line in the angle turned, current one in the
    torque, plus a surge that dies away with the same rate.
    """

    duration_s: float
    start_deg: float
    speed_deg_s: float
    rate_per_s: float
    load: Load
    current_a: float
    current_a_per_nm: float
    source: Source
    final_deg_s: float = 0.0
    surge_a: float = 0.0


class Motion(NamedTuple):
    """A planned motion: pieces in order, and how the last one ends."""

    pieces: tuple[Piece, ...]
    ending: Ending
