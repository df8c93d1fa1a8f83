"""What preferred parts and their tolerances make of a circuit: corners, levels, folded partials, pitch of a period.

A filter that stands still moves no frequency. It changes levels, and with them how strongly each partial counts in a
pitch made of many partials.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.hearing.front_end import FrontEnd
from models.hearing.microphone import Microphone
from models.strings.vibration import PARTIALS_HEARD, partial_hz
from models.units import cents
from sim.hearing.stages import Amplifier, Floats, Stage, chain

HIGHEST_HZ: Final = 12_000.0  # partials above are not counted
GATE_CENTS: Final = 400.0  # common practice: readings are sought this far around the target
TOLERANCES: Final = {"R": 0.01, "C": 0.10}  # common practice: metal film 1 %, film and ceramic capacitors 10 %
DRAWS: Final = 500  # circuits built from other parts of the same bags
MIDDLE: Final = (2.5, 97.5)  # percentiles between which 95 % of these lie
CENTS_PER_B: Final = 600.0 / math.log(2.0)  # of sqrt(1 + B n^2), to first order in B n^2 (Fletcher 1964)

Build = Mapping[str, Floats]
"""Parts of one stage in every draw, each of shape (draws, 1)."""


@dataclass(frozen=True, slots=True)
class Bought:
    """One part of one stage: as reckoned, and the preferred value; ohms or farads."""

    stage: str
    part: str
    exact: float
    value: float


@dataclass(frozen=True, slots=True)
class Corner:
    """What the preferred values of a stage really give: a corner in Hz, or the gain of an amplifier."""

    stage: str
    unit: str
    """``Hz``, or ``V/V`` for an amplifier."""
    wanted: float
    built: float
    low: float
    """2.5 % of built circuits lie below."""
    high: float
    """2.5 % of built circuits lie above."""
    wanted_q: float | None
    """Quality of the pole pair; None for a single pole or an amplifier."""
    built_q: float | None


@dataclass(frozen=True, slots=True)
class Alias:
    """A partial that folds into the search range of its own string."""

    string: str
    partial: int
    true_hz: float
    folded_hz: float
    off_cents: float
    """From the target, positive = above."""
    level_db: float
    """At the converter, re partial 1 of the string, through the rig's circuit."""
    level_high_db: float
    """The same in all but the worst 2.5 % of built circuits."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """What part tolerances do to one string, over 95 % of built circuits."""

    string: str
    level_low_db: float
    """At the pitch, re the rig's own circuit."""
    level_high_db: float
    effective_cents: float
    """How far a period over the first partials in the band lies above partial 1, through the rig's circuit."""
    change_cents: float
    """Largest change of that; partial 1 itself never moves."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """A circuit as the rig describes it, and as 500 people build it from the same bags of parts."""

    microphone: Microphone
    front_end: FrontEnd
    stages: tuple[Stage, ...]
    builds: tuple[Build, ...]
    """By stage."""

    def rig_gain(self, hz: Floats) -> Floats:
        """Return volts per pascal as the rig describes it, shape of ``hz``."""
        return np.abs(self.microphone.response(hz) * self.front_end.response(hz))

    def built_gain(self, hz: Floats) -> Floats:
        """Return volts per pascal of every build, shape (draws, frequencies)."""
        gain = np.abs(self.microphone.response(hz)) * np.ones((DRAWS, 1))
        for stage, build in zip(self.stages, self.builds, strict=True):
            gain = gain * np.abs(stage.response(build, hz))
        return gain


@dataclass(frozen=True, slots=True)
class Heard:
    """Partials of one string: numbers, frequencies, amplitudes through the rig's circuit and through built ones."""

    string: str
    target_hz: float
    inharmonicity: float
    numbers: NDArray[np.int64]
    hz: Floats
    rig: Floats
    built: Floats
    """Shape (draws, partials)."""


def folded_hz(hz: ArrayLike, rate_hz: float) -> Floats:
    """Return where frequencies appear after sampling, 0 to half the rate."""
    found: Floats = np.abs(np.asarray(hz) - rate_hz * np.round(np.asarray(hz) / rate_hz))
    return found


def circuit_of(microphone: Microphone, front_end: FrontEnd) -> Circuit:
    """Return the circuit with its builds: parts evenly spread over their tolerances, the same in every study."""
    chance = np.random.default_rng(60063)
    stages = tuple(chain(front_end))
    return Circuit(
        microphone,
        front_end,
        stages,
        tuple({part: value * _spread(part, chance) for part, value in stage.bought.items()} for stage in stages),
    )


def _spread(part: str, chance: np.random.Generator) -> Floats:
    return 1.0 + TOLERANCES[part[0]] * chance.uniform(-1.0, 1.0, (DRAWS, 1))


def partials_of(string: str, target_hz: float, inharmonicity: float, circuit: Circuit) -> Heard:
    """Return the partials of a string up to the highest counted, at least the first, which lies at the target.

    As sounds they fall as 1/n.
    """
    numbers = np.arange(1, max(1, int(HIGHEST_HZ / target_hz)) + 1)
    ideal_hz = target_hz / math.sqrt(1.0 + inharmonicity)
    hz = np.array([partial_hz(int(number), ideal_hz, inharmonicity) for number in numbers])
    rig, built = circuit.rig_gain(hz) / numbers, circuit.built_gain(hz) / numbers
    return Heard(string, target_hz, inharmonicity, numbers, hz, rig, built)


def strongest_alias(partials: Heard, rate_hz: float) -> Alias | None:
    """Return the strongest partial that folds to within 400 cents of its own string; None when none does."""
    places = folded_hz(partials.hz, rate_hz)
    off = np.log2(np.maximum(places, 1e-9) / partials.target_hz)
    folds = np.flatnonzero(
        (np.abs(off) <= GATE_CENTS / 1200.0) & (2.0 * partials.hz > rate_hz) & (partials.numbers > 1)
    )
    if not folds.size:
        return None
    worst = folds[np.argmax(partials.rig[folds])]
    return Alias(
        string=partials.string,
        partial=int(partials.numbers[worst]),
        true_hz=float(partials.hz[worst]),
        folded_hz=float(places[worst]),
        off_cents=cents(float(places[worst]), partials.target_hz),
        level_db=_db(partials.rig[worst] / partials.rig[0]),
        level_high_db=_db(np.percentile(partials.built[:, worst] / partials.built[:, 0], MIDDLE[1])),
    )


def scatter(partials: Heard, rate_hz: float) -> Scatter:
    """Return what part tolerances do to the level of a string and to the period over its partials in the band."""
    low, high = _middle(partials.built[:, 0] / partials.rig[0])
    inside = (partials.numbers <= PARTIALS_HEARD) & ((2.0 * partials.hz < rate_hz) | (partials.numbers == 1))
    rig, built = (_effective_cents(partials, gains, inside) for gains in (partials.rig, partials.built))
    change = float(np.percentile(np.abs(built - rig), MIDDLE[1]))
    return Scatter(partials.string, _db(low), _db(high), float(rig), change)


def _effective_cents(partials: Heard, amplitudes: Floats, inside: NDArray[np.bool_]) -> Any:
    """Return how far a period lies above partial 1; partials count by ``(n A_n)^2``."""
    numbers = partials.numbers[inside]
    weights = (numbers * amplitudes[..., inside]) ** 2
    stretch = np.sum(weights * (numbers**2 - 1), axis=-1) / np.sum(weights, axis=-1)
    return CENTS_PER_B * partials.inharmonicity * stretch


def bought(circuit: Circuit) -> tuple[Bought, ...]:
    """Return every part of every stage, in the order of the signal."""
    return tuple(
        Bought(_named(place, stage), part, exact, stage.bought[part])
        for place, stage in enumerate(circuit.stages)
        for part, exact in stage.exact.items()
    )


def corners(circuit: Circuit) -> tuple[Corner, ...]:
    """Return the corner or gain of every stage, in the order of the signal."""
    both = zip(circuit.stages, circuit.builds, strict=True)
    return tuple(_corner(_named(place, stage), stage, build) for place, (stage, build) in enumerate(both))


def _corner(name: str, stage: Stage, build: Build) -> Corner:
    if isinstance(stage, Amplifier):
        low, high = _middle(stage.gain(build))
        return Corner(name, "V/V", stage.gain(stage.exact), stage.gain(stage.bought), low, high, None, None)
    low, high = _middle(stage.corner_hz(build))
    built_hz, built_q = float(stage.corner_hz(stage.bought)), stage.quality(stage.bought)
    return Corner(name, "Hz", stage.wanted_hz, built_hz, low, high, stage.wanted_q, built_q)


def _middle(values: Any) -> tuple[float, float]:
    low, high = np.percentile(values, MIDDLE)
    return float(low), float(high)


def _named(place: int, stage: Stage) -> str:
    return f"{place + 1} {stage.name}"


def _db(ratio: Any) -> float:
    return 20.0 * math.log10(ratio)
