"""``pegloop hear``: detectors on simulated plucks, on a recording, a circuit on paper, or a new statistical ear."""

import argparse
from importlib import import_module

from sim.cli.refused import Refused
from sim.cli.screen import Screen

MODES = {"wav": "hear_wav", "circuit": "hear_circuit", "fit": "hear_fit"}
"""Option that asks for something else than the bench -> module of ``sim.cli`` that answers."""
USELESS = {
    "wav": ("strings", "seed"),
    "circuit": ("detectors", "detector", "seed", "out", "target"),
    "fit": ("detectors", "detector", "out", "target"),
    "bench": ("target",),
}
"""By mode, options that it could not heed."""
DEFAULT_SEED, DEFAULT_RIG = 1, "default"


def answer(args: argparse.Namespace, screen: Screen) -> int:
    """Answer in one of four ways; options that do not go together are refused."""
    asked = [mode for mode in MODES if getattr(args, mode) not in (None, False)]
    if len(asked) > 1:
        raise Refused(f"--{asked[0]} and --{asked[1]}: each is a study of its own; leave one of them out")
    mode = asked[0] if asked else "bench"
    _refuse_useless(args, mode)
    args.seed = DEFAULT_SEED if args.seed is None else args.seed
    if mode != "wav":
        args.rig = args.rig or DEFAULT_RIG
    code: int = import_module(f"sim.cli.{MODES.get(mode, 'hear_bench')}").answer(args, screen)
    return code


def _refuse_useless(args: argparse.Namespace, mode: str) -> None:
    for name in USELESS[mode]:
        if getattr(args, name) not in (None, []):
            needs = "goes with --wav alone" if name == "target" else f"means nothing with --{mode}; leave it out"
            raise Refused(f"--{name} {needs}")
