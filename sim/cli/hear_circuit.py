"""``pegloop hear --circuit``: levels, headroom, folds, parts to buy and their tolerances, on paper."""

import argparse
from dataclasses import asdict
from typing import TYPE_CHECKING

from sim.cli.loading import chosen, load
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from scenarios.schema import Scenario
    from sim.hearing.circuit import CircuitStudy


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Study the rig's circuit for the pitches of its strings and tell what was found."""
    from sim.views.circuit import advice, tables

    scenario = load(args.rig, args)
    study = _study(scenario, chosen(args.strings, scenario.strings, "string"))
    if args.json:
        screen.json({"rig": scenario.name, **asdict(study), "advice": advice(study)})
        return 0
    for table in tables(study):
        screen.table(table)
    for sentence in advice(study):
        screen.say(sentence)
    return 0


def _study(scenario: "Scenario", strings: tuple[str, ...]) -> "CircuitStudy":
    """Return the study of a rig's nominal circuit at the level of its loudest string."""
    from models.strings.vibration import inharmonicity
    from sim.hearing.circuit import study
    from sim.specimen import as_built

    built = {string: as_built(scenario, string, lambda key: 0.5) for string in strings}
    parts = {section: scenario.hearing[section].nominal() for section in ("microphone", "front_end", "converter")}
    return study(
        **parts,
        level_db_spl=max(scenario.sounds[string].nominal().level_db_spl for string in strings),
        targets_hz={string: each.target_hz for string, each in built.items()},
        inharmonicity={
            string: inharmonicity(each.bending_n, each.tension_at_hz(each.target_hz)) for string, each in built.items()
        },
    )
