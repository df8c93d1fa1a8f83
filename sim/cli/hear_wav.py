"""``pegloop hear --wav FILE``: pitch detectors on a recording, by themselves or through a rig."""

import argparse
import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.loading import chosen, empty_folder, load, own_detectors
from sim.cli.refused import Refused
from sim.cli.screen import Screen, clean

if TYPE_CHECKING:
    from models.detectors.base import Detector
    from scenarios.schema import Scenario
    from sim.hearing.listener import Target
    from sim.hearing.recording import Recording

DEFAULT_RIG = "default"  # its detector is the library's default


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Hear the recording, tell each reading and the accepted pitch; with ``--out`` write JSON and plot."""
    from sim.hearing.listener import of_rig, usual
    from sim.hearing.recording import hear, plain
    from sim.hearing.wave import WaveError, read

    if not args.rig and (args.changes or args.controllers):
        raise Refused("--set and --controller change a rig: name one, such as default")
    scenario = load(args.rig, args) if args.rig else None
    target = _target(args.target, scenario)
    listener = of_rig(scenario, target) if scenario else usual()
    detectors = _detectors(args, scenario)
    try:
        found = hear(args.wav, read(Path(args.wav)), listener, detectors, target)
    except WaveError as fault:
        raise Refused(str(fault), placed=True) from None
    folder = empty_folder(args.out) if args.out else None
    if args.json:
        screen.json(plain(found))
    else:
        _tell(found, screen)
    if folder:
        _write(found, folder, screen)
    return 0


def _target(text: str | None, scenario: "Scenario | None") -> "Target | None":
    from sim.hearing.listener import target_of

    try:
        return None if text is None else target_of(text, scenario.setting.nominal().a4_hz if scenario else 440.0)
    except ValueError as error:
        raise Refused(f"--target: {error}; hertz are written as '82.4 Hz'") from None


def _detectors(args: argparse.Namespace, scenario: "Scenario | None") -> "Mapping[str, Detector]":
    """Return the detectors that were asked for; without names the rig's or the library's own, and the user's."""
    from sim.hearing.candidates import ALL, candidates, known_names

    kinds, wanted = own_detectors(args), args.detectors
    chosen(wanted, known_names(kinds), "detector")
    try:
        found = candidates(scenario or load(DEFAULT_RIG, args), tuple(kinds) if wanted is None else wanted, kinds)
    except ValueError as error:
        raise Refused(f"--detector {error}") from None
    names = tuple(found) if wanted is None or ALL in wanted else dict.fromkeys(wanted)
    return {name: found[name] for name in names}


def _tell(found: "Recording", screen: Screen) -> None:
    from sim.views.recording import about, tables, verdicts
    from sim.views.tell import shortened

    for sentence in about(found):
        screen.say(sentence)
    screen.say()
    for table in tables(found):
        screen.table(shortened(table))
    for sentence in verdicts(found):
        screen.say(sentence, "bold")


def _write(found: "Recording", folder: Path, screen: Screen) -> None:
    from sim.hearing.recording import plain
    from sim.views.plots.recording import draw

    text = json.dumps(clean(plain(found)), indent=2, allow_nan=False) + "\n"
    (folder / "hear.json").write_text(text, encoding="utf-8")
    draw(found, folder)
    screen.talk(f"wrote {folder}: hear.json, cents over time and spectrum as SVG and PNG")
