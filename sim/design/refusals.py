"""Why a rig cannot be run as it stands, or will hear nothing, told before any run."""

from collections.abc import Collection

from models.messages import Source
from scenarios.schema import Range, Scenario


def refusals(
    scenario: Scenario, chosen: Collection[str] | None = None, strings: Collection[str] | None = None
) -> tuple[str, ...]:
    """Return why the rig cannot be run; empty when it can.

    Strategies (all, or the chosen ones) may ask for what the motor cannot do; strings (all, or those named) may be
    beyond the signal ear.
    """
    accepts: frozenset[type] = scenario.motor.kind.accepts
    found = [*_dead(scenario), *_deaf(scenario, strings)]
    for strategy in scenario.strategies:
        if chosen is not None and strategy.name not in chosen:
            continue
        for kind in {part.kind for part in strategy.controllers.values()}:
            strange: frozenset[type] = getattr(kind, "asks", frozenset()) - accepts
            found += [
                f"{strategy.name} asks the motor to {command.__name__.lower()}, which it cannot" for command in strange
            ]
    return tuple(found)


def unheard(scenario: Scenario) -> tuple[str, ...]:
    """Return a line when strings may start where readings are not believed; empty otherwise."""
    acceptance = scenario.acceptance.nominal()
    start = scenario.setting.values["start_cents"]
    farthest = max(abs(start.low), abs(start.high)) if isinstance(start, Range) else abs(float(str(start)))
    if "gate" not in acceptance.stages() or "fold" in acceptance.stages() or farthest <= acceptance.gate_cents:
        return ()
    return (
        f"strings start up to {farthest:g} cents off; readings beyond {acceptance.gate_cents:g} cents are not believed "
        "(acceptance.gate_cents)",
    )


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
