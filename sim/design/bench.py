"""The bench of a rig: which measurements settle what it leaves open, and what they should read."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from statistics import quantiles
from typing import Final

from scenarios.schema import GIVEN, Part, Range, Scenario
from sim.build import Rig
from sim.design.measurements import MEASUREMENTS, Measurement
from sim.design.predictions import Span
from sim.design.strung import taut
from sim.seeds import Streams

MOST: Final = 8  # measurements asked for: an afternoon's work
SPECIMENS: Final = 200
UNSURE: Final = ("estimate", "from memory")  # words in a source that leave a single number open


@dataclass(frozen=True, slots=True)
class Band:
    """What one measurement should read on one string: on 95 of 100 machines, between two values."""

    string: str
    """Name of the string; empty where the rig has one reading."""
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Asked:
    """A measurement as it is asked of one rig."""

    measurement: Measurement
    setting: float
    """Value of what is agreed on beforehand; 0 where nothing is."""
    settles: tuple[str, ...]
    """Dotted keys of the rig that are open."""
    bands: tuple[Band, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """At most eight measurements for one rig."""

    rig: str
    seed: int
    asked: tuple[Asked, ...]


def bench(scenario: Scenario, strings: Sequence[str], seed: int) -> Bench:
    """Return the first measurements, in the order of their worth, that settle something on these strings."""
    streams = Streams(seed)
    machines = [taut(scenario, strings, streams, number) for number in range(SPECIMENS)]
    specimens = {name: [machine[name] for machine in machines] for name in strings}
    nominal = list(taut(scenario, strings).values())
    return Bench(scenario.name, seed, tuple(islice(_asked(scenario, specimens, nominal), MOST)))


def _asked(scenario: Scenario, specimens: Mapping[str, Sequence[Rig]], nominal: Sequence[Rig]) -> Iterator[Asked]:
    """Give every measurement that serves this rig; none whose reading is sure to be 0."""
    for measurement in MEASUREMENTS:
        settles = open_keys(scenario, measurement, list(specimens))
        if settles and measurement.serves(scenario):
            setting = measurement.choose(nominal)
            bands = tuple(_bands(measurement, setting, specimens))
            if any(band.low or band.high for band in bands):
                yield Asked(measurement, setting, settles, bands)


def open_keys(scenario: Scenario, measurement: Measurement, strings: Sequence[str]) -> tuple[str, ...]:
    """Return the dotted keys of a rig that a measurement settles: ranges, and estimates that nobody confirmed."""
    found = (f"{part.path}.{key}" for part, key in _keys(scenario, measurement, strings) if is_open(part, key))
    return tuple(dict.fromkeys(found))


def is_open(part: Part, key: str) -> bool:
    """Return whether a part leaves a key open; a number that the rig file gives is settled."""
    value, source = part.values.get(key), part.sources.get(key, "")
    if isinstance(value, Range):
        return True
    return isinstance(value, int | float) and not source.startswith(GIVEN) and any(word in source for word in UNSURE)


def _keys(scenario: Scenario, measurement: Measurement, strings: Sequence[str]) -> Iterator[tuple[Part, str]]:
    for place in measurement.settles:
        section, _, key = place.partition(".")
        yield from ((part, key) for part in _parts(scenario, section, strings))


def _parts(scenario: Scenario, section: str, strings: Sequence[str]) -> list[Part]:
    by_string = {"strings": scenario.strings, "head": scenario.heads, "nut": scenario.nuts, "ear": scenario.ears}
    if section in by_string:
        return [by_string[section][name] for name in strings]
    return [
        {"body": scenario.body, "coupler": scenario.coupler, "motor": scenario.motor, "supply": scenario.supply}[
            section
        ]
    ]


def _bands(measurement: Measurement, setting: float, specimens: Mapping[str, Sequence[Rig]]) -> Iterator[Band]:
    for name, rigs in specimens.items():
        spans = [measurement.predicted(rig, setting) for rig in rigs]
        if measurement.each == "rig":
            yield _band("", spans)
            return
        yield _band(name, spans)


def _band(string: str, spans: Sequence[Span]) -> Band:
    """Return the middle 95 of 100 specimens, 2.5 left out at either end."""
    low = quantiles([span.low for span in spans], n=40, method="inclusive")[0]
    high = quantiles([span.high for span in spans], n=40, method="inclusive")[-1]
    return Band(string, low, high)
