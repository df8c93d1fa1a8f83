"""What matters most among the unknowns, where to measure it, and where money helps."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from scenarios.schema import Scenario
from sim.design.measurements import MEASUREMENTS
from sim.series.unknowns import CHANCE, ELSE, resolved
from sim.series.unknowns_streams import START_KEY

Found = Mapping[str, Any]
MEASURES: Final = {
    "final_error_cents": "error in the end", "plucks": "plucks", "percent_of_breaking": "% of breaking tension",
}  # fmt: skip
LEAD: Final = 0.95  # share of resamplings in which the first must lead to be called that
MAKER: Final = "its maker's data sheet or a better specified part settles it, no household measurement"
OTHERS: Final = {
    CHANCE: ("better ear", "a better ear or a steadier pluck helps, no measurement of parts does"),
    ELSE: ("-", "without --vary all keys that are open take part"),
    START_KEY: ("the users", "it is what users bring, nothing to measure"),
}
"""What settles the unknowns that are no parts: in a few words, and what to do about them."""


def measured_by(key: str, scenario: Scenario) -> str | None:
    """Return the measurement of ``pegloop bench`` that settles a key, None when there is none."""
    place = key.replace("strings.*.", "strings.")
    return next((one.name for one in MEASUREMENTS if place in one.settles and one.serves(scenario)), None)


def settled_by(key: str, scenario: Scenario) -> str:
    """Return in a few words what settles a key."""
    if key in OTHERS:
        return OTHERS[key][0]
    if name := measured_by(key, scenario):
        return f"bench: {name}"
    return bought(key, scenario) or "data sheet"


def bought(key: str, scenario: Scenario) -> str | None:
    """Return the part that money replaces, with its price where one is known."""
    section = key.partition(".")[0]
    price = scenario.prices.get(section)
    return None if price is None else f"{section}, {price.eur:g} EUR"


def sentences(found: Found, scenario: Scenario) -> list[str]:
    """Return a sentence for each strategy and measure, and what to do first."""
    return [sentence for one in found["strategies"] for sentence in _of_strategy(one, scenario)]


def _of_strategy(one: Found, scenario: Scenario) -> Iterator[str]:
    for measure, listed in one["measures"].items():
        yield f"{one['strategy']}, {MEASURES[measure]}: {_first(listed, scenario)}"


def headlines(one: Found) -> list[str]:
    """Return in a few words what comes first in each measure of one strategy."""
    return [
        f"{one['strategy']}, {MEASURES[measure]}: {_leading([each for each in listed if resolved(each)])}"
        for measure, listed in one["measures"].items()
        if listed
    ]


def _leading(sure: list[dict[str, Any]]) -> str:
    if not sure:
        return "not resolved; more machines (--rigs) tell"
    most = sure[0]
    lead = "matters most" if most["leads"] >= LEAD else f"comes first in {100 * most['leads']:.0f} of 100 resamplings"
    total = most["total"]
    span = f"{100 * total['low']:.0f} to {100 * total['high']:.0f} % of the variance with all that it takes part in"
    return f"{most['key']} {lead} ({span})"


def _first(listed: list[dict[str, Any]], scenario: Scenario) -> str:
    if not listed:
        return "the same on every machine, so no unknown matters."
    sure = [one for one in listed if resolved(one)]
    if not sure:
        return f"{_leading(sure)}."
    most = sure[0]
    said = f"{_leading(sure)}; {_do(most['key'], scenario)}."
    known = next((one["key"] for one in sure if measured_by(one["key"], scenario)), None)
    return (
        said
        if known in (None, most["key"])
        else f"{said} Of what can be measured {known}: {_do(str(known), scenario)}."
    )


def _do(key: str, scenario: Scenario) -> str:
    """Return what to do about a key."""
    if key in OTHERS:
        return OTHERS[key][1]
    if name := measured_by(key, scenario):
        return f"measure it by {name} (pegloop bench {scenario.name})"
    part = bought(key, scenario)
    return f"no household measurement settles it; spend on a part that spreads less ({part})" if part else MAKER
