"""``pegloop run``: one tuning of one string, told step by step."""

import argparse
import csv
import io
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.loading import chosen, empty_folder, load
from sim.cli.refused import Refused
from sim.cli.screen import Screen, clean
from sim.views.numbers import number

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.loop import Record
    from sim.trace import Trace

SHOWN = (
    "in_tune", "final_error_cents", "plucks", "seconds", "overshoot_cents", "settling_s", "reversals", "turned_deg",
    "energy_j", "percent_of_breaking",
)  # fmt: skip
TRUTH = frozenset({"in_tune", "final_error_cents", "overshoot_cents", "settling_s"})


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Run each strategy on the same draws and tell what happened; 3 when one crashed."""
    if args.hide_truth and args.out:
        raise Refused("--hide-truth and --out: the files of --out show the truth; leave one of them out")
    scenario = load(args.rig, args)
    folder = empty_folder(args.out) if args.out else None
    records = _records(scenario, args)
    traces = _traces(records)
    results = {name: result(trace, hide_truth=args.hide_truth) for name, trace in traces.items()}
    if args.json:
        screen.json(_json(results))
    else:
        for name, trace in traces.items():
            _tell(name, trace, results[name], args, screen)
    if folder:
        _write(folder, traces, results, screen)
        if args.ear == "signal":
            _write_sound(folder, records, args.seed, screen)
    elif not args.json and not args.hide_truth:
        screen.talk("Its timeline as a picture: add --out DIR")
    return 3 if any(trace.outcome.name == "CRASHED" for trace in traces.values()) else 0


def _records(scenario: "Scenario", args: argparse.Namespace) -> "dict[str, Record]":
    from sim.design.refusals import refusals
    from sim.evaluate import record_of

    known = [strategy.name for strategy in scenario.strategies]
    names = chosen(args.strategy, known, "strategy") if args.strategy else (known[0],)
    string = chosen((args.string,) if args.string else None, scenario.strings, "string")[0]
    if cannot := refusals(scenario, names, (string,)):
        raise Refused(*cannot)
    return {name: record_of(scenario, name, string, seed=args.seed) for name in names}


def _traces(records: "dict[str, Record]") -> "dict[str, Trace]":
    from sim.corners import trace

    return {name: trace(record) for name, record in records.items()}


def result(trace: "Trace", *, hide_truth: bool = False) -> dict[str, Any]:
    """Return outcome, advice and measures of a run; what only the truth knows is None with ``hide_truth``."""
    from sim.metrics import measures

    found = measures(trace)
    shown = {name: None if hide_truth and name in TRUTH else found[name] for name in SHOWN}
    return {"outcome": _outcome(trace), "advice": trace.outcome.value, **shown}


def _outcome(trace: "Trace") -> str:
    return trace.outcome.name.lower().replace("_", " ")


def _json(results: dict[str, dict[str, Any]]) -> Any:
    if len(results) == 1:
        return next(iter(results.values()))
    return {"strategies": [{"strategy": name, **found} for name, found in results.items()]}


def _tell(name: str, trace: "Trace", found: dict[str, Any], args: argparse.Namespace, screen: Screen) -> None:
    from sim.views.tell import shortened, told

    screen.say(f"{name}, seed {args.seed}", "bold")
    screen.table(shortened(told(trace, hide_truth=args.hide_truth)))
    screen.say(f"{found['outcome']}" + (f" ({trace.detail})" if trace.detail else ""), "bold")
    screen.say(found["advice"])
    for key in SHOWN:
        value = found[key]
        screen.say(f"{key:20} {_worded(value, hidden=args.hide_truth and key in TRUTH)}", indent=2)
    screen.say()
    if args.hide_truth:
        screen.talk("What is the true error? Guess, then run again without --hide-truth.")


def _worded(value: Any, *, hidden: bool) -> str:
    if hidden:
        return "hidden"
    return ("yes" if value else "no") if isinstance(value, bool) else number(value)


def _write(folder: Path, traces: "dict[str, Trace]", results: dict[str, Any], screen: Screen) -> None:
    from sim.views.plots.timeline import draw

    text = json.dumps(clean(_json(results)), indent=2, allow_nan=False) + "\n"
    (folder / "run.json").write_text(text, encoding="utf-8")
    for name, trace in traces.items():
        (folder / f"path-{name}.csv").write_text(_csv(trace), encoding="utf-8")
    draw(list(traces.items()), folder)
    screen.talk(f"wrote {folder}: run.json, the path of each run as CSV, timeline as SVG and PNG")


def _write_sound(folder: Path, records: "dict[str, Record]", seed: int, screen: Screen) -> None:
    from sim.evaluate import chance_of
    from sim.hearing.soundtrack import write_soundtrack

    for name, record in records.items():
        chance = chance_of(record.rig.string, seed=seed)
        screen.talk(f"wrote {write_soundtrack(record, chance, folder / f'{name}.wav')}")


def _csv(trace: "Trace") -> str:
    columns = trace.columns()
    page = io.StringIO()
    lines = csv.writer(page, lineterminator="\n")
    lines.writerow(columns)
    lines.writerows(zip(*(values.tolist() for values in columns.values()), strict=True))
    return page.getvalue()
