"""Why a rig cannot be run as it stands, or will hear nothing, told before any run."""

from collections.abc import Collection, Iterator

from models.messages import Source
from scenarios.schema import Range, Scenario
from sim.design.facts import Facts
from sim.design.guard_refusals import guard_doubts, guard_refusals


def refusals(
    scenario: Scenario, chosen: Collection[str] | None = None, strings: Collection[str] | None = None
) -> tuple[str, ...]:
    """Return why the rig cannot be run; empty when it can.

    Strategies (all, or the chosen ones) may ask for what the motor cannot do; strings (all, or those named) may be
    beyond the signal ear, or beyond what a guard can save.
    """
    accepts: frozenset[type] = scenario.motor.kind.accepts
    strategies = [each for each in scenario.strategies if chosen is None or each.name in chosen]
    dead = _dead(scenario)
    found = [*dead, *_deaf(scenario, strings), *(() if dead else guard_refusals(scenario, strategies, strings))]
    for strategy in strategies:
        for kind in {part.kind for part in strategy.controllers.values()}:
            strange: frozenset[type] = getattr(kind, "asks", frozenset()) - accepts
            found += [
                f"{strategy.name} asks the motor to {command.__name__.lower()}, which it cannot" for command in strange
            ]
    return tuple(found)


def doubts(scenario: Scenario, facts: Collection[Facts]) -> tuple[str, ...]:
    """Return a line for each reason why some tunings cannot end well, though others may."""
    doubts = (_unheard(scenario), _out_of_travel(scenario, facts), _stopped_short(scenario, facts))
    return (*(line for lines in doubts for line in lines), *guard_doubts(scenario))


def _unheard(scenario: Scenario) -> Iterator[str]:
    """Give a line when strings may start where readings are not believed."""
    acceptance, farthest = scenario.acceptance.nominal(), _farthest_cents(scenario)
    if "gate" in acceptance.stages() and "fold" not in acceptance.stages() and farthest > acceptance.gate_cents:
        yield (
            f"strings start up to {farthest:g} cents off; readings beyond {acceptance.gate_cents:g} cents are not "
            "believed (acceptance.gate_cents)"
        )


def _out_of_travel(scenario: Scenario, facts: Collection[Facts]) -> Iterator[str]:
    """Give a line for each head whose travel, from its middle, does not reach where strings may start."""
    farthest = _farthest_cents(scenario)
    for each in facts:
        if 0.5 * each.travel_cents < farthest:
            yield (
                f"the head of {each.string} reaches {0.5 * each.travel_cents:.0f} cents from the middle of its travel; "
                f"strings start up to {farthest:g} cents off, and runs do not stop at its end"
            )


def _stopped_short(scenario: Scenario, facts: Collection[Facts]) -> Iterator[str]:
    """Give a line for the string that a stop of the knob keeps farthest from its target; tension is pitch squared."""
    stop_deg, start = scenario.coupler.nominal().stop_deg, scenario.setting.values["start_cents"]
    low = start.low if isinstance(start, Range) else float(str(start))
    ways = {each.string: 360.0 * each.slack_turns * (1.0 - 2.0 ** (min(low, 0.0) / 600.0)) for each in facts}
    worst = max(ways, key=lambda string: ways[string], default=None)
    if worst is not None and 0.0 < stop_deg < ways[worst]:
        yield (
            f"the stop ends the knob's turn after {stop_deg:.0f} deg; {worst} needs {ways[worst]:.0f} deg from "
            f"{low:g} cents to its target (coupler.stop_deg)"
        )


def _farthest_cents(scenario: Scenario) -> float:
    start = scenario.setting.values["start_cents"]
    return max(abs(start.low), abs(start.high)) if isinstance(start, Range) else abs(float(str(start)))


def _dead(scenario: Scenario) -> tuple[str, ...]:
    """Return a line when the supply cannot even start the motor without load; empty otherwise."""
    motor, source = scenario.motor.nominal(), scenario.supply.nominal().source(0.0)
    if motor.starting_torque_nm(source) > 0.0:
        return ()
    return (f"the supply ({_told(source)}) cannot start the motor, not even without load",)


def _told(source: Source) -> str:
    return f"{source.voltage_v:.3g} V behind {source.resistance_ohm:.3g} ohm"


def _deaf(scenario: Scenario, strings: Collection[str] | None) -> tuple[str, ...]:
    if scenario.ear != "signal":
        return ()
    from sim.hearing.limits import deaf

    return deaf(scenario, scenario.strings if strings is None else strings)
