"""``pegloop bench``: what to measure on the real rig, what it should read, and a log to fill in."""

import argparse
from typing import TYPE_CHECKING, Any

from sim.cli.loading import chosen, empty_folder, load
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from pathlib import Path

    from sim.design.bench import Asked, Bench
    from sim.design.bench_log import Readings


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Say what to measure, and write the log with ``--out``."""
    from sim.design.bench import bench

    scenario = load(args.rig, args)
    strings = chosen(args.strings, scenario.strings, "string")
    folder = empty_folder(args.out) if args.out else None
    found, readings = bench(scenario, strings, args.seed), dict[tuple[str, str], float]()
    if args.trial is not None:
        from sim.design.bench_trial import readings_of

        readings = readings_of(scenario, found, args.trial)
    if args.json:
        screen.json(plain(found, readings))
    else:
        _tell(found, readings, screen)
    if folder:
        _write(found, readings, folder, args.trial, screen)
    elif not args.json:
        screen.talk("As a log to fill in: add --out DIR")
    return 0


def plain(bench: "Bench", readings: "Readings") -> dict[str, Any]:
    """Return the bench as plain data."""
    return {"rig": bench.rig, "seed": bench.seed, "measurements": [_plain(asked, readings) for asked in bench.asked]}


def _plain(asked: "Asked", readings: "Readings") -> dict[str, Any]:
    measurement = asked.measurement
    return {
        "name": measurement.name,
        "unit": measurement.unit,
        "setting": {measurement.setting: asked.setting} if measurement.setting else {},
        "do": measurement.do.format(setting=f"{asked.setting:g}"),
        "caution": measurement.caution,
        "settles": asked.settles,
        "bands": [
            {
                "string": band.string or None,
                "low": band.low,
                "high": band.high,
                "reading": readings.get((measurement.name, band.string)),
            }
            for band in asked.bands
        ],
    }


def _tell(found: "Bench", readings: "Readings", screen: Screen) -> None:
    from sim.views.bench import NOTE, instructions, tables
    from sim.views.page import CAUTION

    if not found.asked:
        screen.say(f"{found.rig} leaves nothing open that these measurements would settle.")
        return
    screen.say(f"{found.rig}: {len(found.asked)} measurements with household means, what decides most first", "bold")
    for heading, text in instructions(found):
        screen.say(heading, "bold")
        screen.say(text, indent=3)
    screen.say()
    for table in tables(found, readings):
        screen.table(table)
    for line in (NOTE, f"Caution: {CAUTION}"):
        screen.say(line)


def _write(found: "Bench", readings: "Readings", folder: "Path", trial: int | None, screen: Screen) -> None:
    from sim.design.bench_log import to_log
    from sim.series.files import write_aside

    write_aside(folder / "bench.csv", to_log(found, readings, f"simulated machine {trial}"))
    screen.talk(f"wrote {folder}: bench.csv, a row for each reading")
