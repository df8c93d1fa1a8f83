"""What a rig file becomes: frozen data, each number a number or a range, each with where it came from."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field

from models.component import NonNegative, Positive, Share, component
from models.messages import Task
from scenarios.price import Price

Hearing = Literal["statistical", "signal"]

FORMAT = 1  # of rig files; raised when an old file would mean something else
GIVEN = "given, "  # how the source of a value begins that the rig file or the command line gives


@component
class Setting:
    """The instrument as a whole: reference pitch and how far off its strings are before tuning.

    Law: every specimen and tuning draws its own start from the range.

    Fails when: a string starts so slack that it has no pitch to hear.

    Source: A4 = 440 Hz is ISO 16:1975; the start is your own estimate.
    """

    a4_hz: Annotated[float, Field(ge=300, le=600)]
    """Reference pitch. 440 unless your players say otherwise."""

    start_cents: Annotated[float, Field(ge=-2400, le=1200)]
    """Pitch error before tuning. Give the range that your users bring."""


@component
class Driving:
    """How one strategy drives the machine, beside its control law.

    Law: *step* moves, settles, listens; *overlapped* plucks in rhythm and does not wait for readings in flight;
    *turning* listens while the motor turns.

    Fails when: readings arrive later than the next decision; the same step is then taken again.

    Source: dead time and retries are common practice.
    """

    driving: Literal["step", "overlapped", "turning"]
    """How plucks, readings and moves follow each other."""

    dead_time_s: NonNegative
    """Wait after a move before listening. 0.1 s lets gears and string calm down."""

    readings_per_pluck: Annotated[int, Field(ge=1, le=1000)]
    """Readings taken from one pluck before a fresh one is asked for, while it is loud enough."""

    most_missed: Annotated[int, Field(ge=1, le=100)]
    """Readings missed in a row before the machine gives up."""

    largest_move_deg: Positive
    """Largest single turn of the shaft. Less than the string's reserve keeps one wrong reading from breaking it."""


@component
class Wrapping:
    """Rules that go around the control law of one strategy; every one may be left out, and 0 leaves it out too.

    Law: innermost first: law, deadband, finish from below, take-up, slew, then what every strategy has: largest move,
    sense of turning, finish; median and retry around all. In Python they nest in any order.

    Fails when: two of them want opposite things, such as a take-up longer than the largest move.

    Source: ``controllers.wrappers``, one file each.
    """

    deadband_cents: NonNegative = 0.0
    """Half-width of the band in which nothing moves, for a law that has none of its own."""

    finish_from_below_deg: NonNegative = 0.0
    """How much further the shaft loosens, so that the last approach is upwards. More than the drive's play."""

    take_up_deg: NonNegative = 0.0
    """Turn added when the direction changes. The drive's play: turn back until the pitch follows."""

    slew_deg: NonNegative = 0.0
    """Largest growth of a turn from one reading to the next."""

    slew_deg_s: NonNegative = 0.0
    """Largest growth of a speed from one reading to the next."""

    median_of: Annotated[int, Field(ge=0, le=15)] = 0
    """Readings whose median is acted on; odd numbers serve best. Needs as many windows or plucks before each move."""


@component
class Require:
    """What the builder asks of a machine, checked over specimens.

    Law: a specimen meets when at least ``tuned_share`` of its tunings, over all strings, end in tune and no string
    broke; the requirement is met when at least ``specimens_share`` of specimens do. Plucks, seconds and tension are
    judged over all runs. Each to 95 % confidence.

    Fails when: too few specimens were run to tell; the answer is then *not resolved*.

    Source: your own wish.
    """

    tuned_share: Share
    """Share of tunings that must end in tune."""

    specimens_share: Share
    """Share of machines built that must manage it."""

    plucks: Positive
    """95th percentile of plucks allowed."""

    seconds: Positive
    """95th percentile of seconds allowed."""

    percent_of_breaking: Annotated[float, Field(gt=0, le=100)]
    """Highest tension allowed, in percent of breaking tension."""

    budget_eur: NonNegative = 0.0
    """Most that all parts may cost together; 0 = no limit. Read by the design sheet alone."""


@dataclass(frozen=True, slots=True)
class Range:
    """A number that is not known better than this; each specimen draws from it, evenly."""

    low: float
    high: float


Value = float | int | str | bool | Range


@dataclass(frozen=True, slots=True)
class Part:
    """One table of a rig as data: a component class and its values, some of them ranges."""

    path: str
    """Dotted place in the rig file, such as ``"motor"`` or ``"strings.E2"``."""
    kind: type[Any]
    values: Mapping[str, Value]
    sources: Mapping[str, str]
    """Where each value came from, by key: a published source, the word estimate, or the rig file with its line."""

    def nominal(self) -> Any:
        """Return the component with every range at its middle."""
        return self.drawn(lambda key: 0.5)

    def drawn(self, uniform: Callable[[str], float]) -> Any:
        """Return the component with each range drawn; ``uniform`` gives 0 to 1 for a dotted key."""
        return self.kind(**{key: self.value(key, uniform) for key in self.values})

    def value(self, key: str, uniform: Callable[[str], float]) -> Any:
        """Return one value, drawn if it is a range. Raises ``KeyError`` for a key that the part lacks."""
        value = self.values[key]
        if not isinstance(value, Range):
            return value
        return value.low + (value.high - value.low) * uniform(f"{self.path}.{key}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Mappings of a part pickle as plain dicts."""
        return Part, (self.path, self.kind, dict(self.values), dict(self.sources))


@dataclass(frozen=True, slots=True)
class Strategy:
    """A named controller with its parameters, per string."""

    name: str
    kind: str
    controllers: Mapping[str, Part]
    """By string name: the controller."""
    drivings: Mapping[str, Part]
    """By string name: a ``Driving``."""
    wrappings: Mapping[str, Part]
    """By string name: a ``Wrapping``."""


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value that the rig file does not give."""

    key: str
    value: str
    """The value or range, with its unit."""
    source: str


@dataclass(frozen=True, slots=True)
class Scenario:
    """A rig as frozen data."""

    name: str
    """Name of the rig: the stem of its file."""
    text: str
    """The rig file as read, each ``--set`` as a comment behind it."""
    instrument: str
    """Name of the instrument in the parts library, or ``"own"``."""
    setting: Part
    strings: Mapping[str, Part]
    """By string name, in order: a ``String``."""
    heads: Mapping[str, Part]
    """By string name: a ``Head``."""
    nuts: Mapping[str, Part]
    """By string name: a ``Nut``."""
    creeps: Mapping[str, Part]
    """By string name: a ``Creep``."""
    climates: Mapping[str, Part]
    """By string name: a ``Climate``."""
    coupler: Part
    motor: Part
    supply: Part
    unit: Part
    player: Part
    ears: Mapping[str, Part]
    """By string name: a ``StatisticalEar``."""
    acceptance: Part
    hearing: Mapping[str, Part]
    """By section: what the signal ear is made of; empty while the statistical ear listens and the file names none."""
    sounds: Mapping[str, Part]
    """By string name: a ``Sound``; empty like ``hearing``."""
    ear: Hearing
    """Which ear the loop listens with."""
    body: Part
    session: Part
    whole: bool
    """Whether a run is a session that tunes all strings on one body, and not one string by itself."""
    order: tuple[str, ...]
    """All strings, in the order in which a session tunes them."""
    task: Task
    strategies: tuple[Strategy, ...]
    guards: Mapping[str, Part]
    """What can stop a run, by the name that the file gives it: kinds of ``controllers.guards`` with those limits that
    the file gives; the others are derived (``sim.design.guard_limits``)."""
    faults: Mapping[str, Part]
    """What is wrong with the machine, by the name that the file gives it: kinds of ``models.faults``."""
    require: Require | None
    prices: Mapping[str, Price]
    """By section that is bought; one that nobody priced is missing."""
    assumed: tuple[Assumed, ...]
