"""``pegloop check``: valid or not, what a rig file describes, what is hopeless, what was assumed."""

import argparse
from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from sim.cli.loading import kinds, load
from sim.cli.refused import Refused
from sim.cli.screen import Screen
from sim.views.numbers import number
from sim.views.tables import Table

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.design.facts import Facts

KGF_CM = 0.0980665  # N m in one kgf cm, by definition of standard gravity
OZF_IN = 0.00706155  # N m in one ozf in
LBF = 4.4482216  # N in one lbf
INCH = 25.4  # mm


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Check a rig, or print the schema; 1 when something is hopeless."""
    if args.schema:
        from scenarios.json_schema import rig_schema

        screen.json(rig_schema())
        return 0
    if args.rig is None:
        raise Refused("which rig? pegloop check RIG, where RIG is a file or a ready rig such as 'default'")
    scenario = _valid(args, screen)
    found = _found(scenario, args)
    if args.json:
        screen.json({**found, "strings": [asdict(each) for each in found["strings"]]})
    else:
        _tell(scenario, found, screen)
    return 1 if found["hopeless"] else 0


def _valid(args: argparse.Namespace, screen: Screen) -> "Scenario":
    try:
        return load(args.rig, args)
    except Refused as refusal:
        if args.json:
            screen.json({"rig": args.rig, "valid": False, "errors": refusal.lines})
        raise


def _found(scenario: "Scenario", args: argparse.Namespace) -> dict[str, Any]:
    from scenarios.slips import warnings
    from sim.design.facts import describe
    from sim.design.refusals import doubts, refusals

    facts = describe(scenario)
    of_strings = [line for each in facts for line in each.hopeless]
    faults, remarks = _own(scenario, args)
    return {
        "rig": scenario.name,
        "valid": True,
        "instrument": scenario.instrument,
        "a4_hz": scenario.setting.nominal().a4_hz,
        "strategies": [strategy.name for strategy in scenario.strategies],
        "strings": facts,
        "hopeless": [*of_strings, *refusals(scenario), *faults],
        "warnings": [*warnings(scenario), *doubts(scenario, facts), *remarks],
        "assumed": [asdict(each) for each in scenario.assumed],
    }


def _own(scenario: "Scenario", args: argparse.Namespace) -> tuple[list[str], list[str]]:
    """Return what a user's own controllers do against the contract, and what else is to be known of them."""
    from sim.isolated import Failed
    from sim.plan import check_apart

    faults, remarks, own = list[str](), list[str](), kinds(args)
    for strategy in (each for each in scenario.strategies if each.kind in own):
        try:
            printed = [check_apart(scenario, strategy, string) for string in scenario.strings]
        except Failed as failure:
            faults.append(f"strategy {strategy.name}: {failure}")
            continue
        if any(printed):
            remarks.append(f"strategy {strategy.name} prints while it decides; in a run that goes to standard error")
    return faults, remarks


def _tell(scenario: "Scenario", found: dict[str, Any], screen: Screen) -> None:
    screen.say(f"{scenario.name}: valid. {_described(scenario, found)}")
    screen.say()
    screen.table(_strings(found["strings"], found["a4_hz"]))
    screen.table(_torques(scenario, found["strings"]))
    for sense in dict.fromkeys(each.tightens for each in found["strings"]):
        screen.say(_sense(sense, [each.string for each in found["strings"] if each.tightens == sense]))
    for line in _pegbox(found["strings"]):
        screen.say(line)
    for title, style in (("hopeless", "bold red"), ("warnings", "bold yellow")):
        for line in found[title]:
            screen.say(f"{title.removesuffix('s') if title == 'warnings' else title}: {line}", style)
    if not found["hopeless"]:
        screen.say("Nothing is hopeless on paper: no string breaks at pitch, the motor turns every knob.")
    _assumed(scenario, screen)


def _sense(sense: str, strings: list[str]) -> str:
    if sense != "unknown":
        return f"The knobs of {', '.join(strings)} tighten {sense}, seen from the knob's end."
    return (
        f"Which way the knobs of {', '.join(strings)} tighten is unknown; each tuning finds out by one small move. "
        "Try by hand and write it down: a motor that turns the wrong way tightens until something gives."
    )


def _pegbox(facts: "list[Facts]") -> Iterator[str]:
    """Give a line for each peg that presses the pegbox outwards, and a caution."""
    pressing = [each for each in facts if each.wall_force_n]
    for each in pressing:
        yield f"The peg of {each.string} presses the walls of the pegbox outwards with {each.wall_force_n:.0f} N."
    if pressing:
        yield (
            "Whether the wood bears that is not known here: pegs pushed harder hold better and split pegboxes. "
            "A simulation is no proof of safety."
        )


def _described(scenario: "Scenario", found: dict[str, Any]) -> str:
    task = scenario.task
    return (
        f"{scenario.instrument}, {len(scenario.strings)} strings, motor {scenario.motor.kind.__name__}, strategies "
        f"{', '.join(found['strategies'])}; tolerance {task.tolerance_cents:g} cents, at most {task.pluck_limit} "
        f"plucks and {task.time_limit_s:g} s."
    )


def _strings(facts: "list[Facts]", a4_hz: float) -> Table:
    rows = tuple(
        (
            each.string, each.note, f"{each.target_hz:.2f}", number(each.tension_n), number(each.tension_n / LBF),
            number(each.percent_of_breaking), f"{each.reserve_cents:.0f}", number(each.cents_per_knob_deg),
            number(each.stroke_cents),
        )
        for each in facts
    )  # fmt: skip
    columns = ("string", "target", "Hz", "tension\nN", "tension\nlbf", "% of\nbreaking", "reserve\ncents",
               "cents per\nknob deg", "stroke\ncents")  # fmt: skip
    return Table(f"Strings at pitch, A4 = {a4_hz:g} Hz, middle of all ranges", columns, rows)


def _torques(scenario: "Scenario", facts: "list[Facts]") -> Table:
    rows = tuple(
        (
            each.string, number(gauge), f"{gauge / INCH:.4f}", *_thrice(each.torque_up_nm),
            *_thrice(each.motor_torque_nm)[:2], number(each.motor_speed_deg_s),
            number(60.0 / each.motor_speed_deg_s if each.motor_speed_deg_s else None, 2),
        )
        for each, gauge in ((each, scenario.strings[each.string].nominal().gauge_mm) for each in facts)
    )  # fmt: skip
    columns = ("string", "gauge\nmm", "gauge\nin", "knob\nmN m", "knob\nkgf cm", "knob\nozf in", "stall\nmN m",
               "stall\nkgf cm", "speed\ndeg/s", "s per\n60 deg")  # fmt: skip
    return Table("Torque to tighten, stall torque and loaded speed of the motor, as data sheets say it", columns, rows)


def _thrice(torque_nm: float) -> tuple[str, str, str]:
    return number(1e3 * torque_nm), number(torque_nm / KGF_CM), number(torque_nm / OZF_IN)


def _assumed(scenario: "Scenario", screen: Screen) -> None:
    screen.say()
    screen.say(f"{len(scenario.assumed)} values are assumed, because the rig file does not give them:")
    for each in scenario.assumed:
        screen.say(f"{each.key} = {each.value}   {each.source}", indent=2)
