"""The words after ``pegloop``: commands, options, help in groups."""

import argparse
from typing import NoReturn

from sim.cli.refused import Refused, unknown

COMMANDS = (
    "new", "parts", "check", "sheet", "bench", "explain", "run", "compare", "sweep", "unknowns", "faults", "hear",
    "export",
)  # fmt: skip


class Parser(argparse.ArgumentParser):
    """Refuses in one line instead of printing its usage."""

    def error(self, message: str) -> NoReturn:
        """Raise ``Refused`` with the message and where to read on."""
        raise Refused(f"{message}; see {self.prog} --help")


def parse(argv: list[str]) -> argparse.Namespace:
    """Return the command with its options. Raises ``Refused`` for a bad usage, ``SystemExit`` after help."""
    if argv and not argv[0].startswith("-") and argv[0] not in COMMANDS:
        raise unknown("command", argv[0], COMMANDS)
    return _parser().parse_args(argv)


def _parser() -> Parser:
    parser = Parser(prog="pegloop", add_help=False, allow_abbrev=False)
    parser.add_argument("-h", "--help", action="store_true")
    parser.add_argument("--version", action="store_true")
    commands = parser.add_subparsers(dest="command", parser_class=Parser, metavar="COMMAND")
    for name, words in {
        "new": "Write a commented rig file; an existing file is never overwritten.",
        "parts": "What the library of parts holds, or one part with every parameter.",
        "check": "Say whether a rig file is valid, what it describes, and what is hopeless.",
        "sheet": "Say before any run whether the machine can work, string by string, and what would mend it.",
        "explain": "Explain a key, an outcome, a measure or a term in two sentences.",
        "run": "Tell one tuning of one string step by step.",
        "compare": "Compare strategies and rigs over many simulated machines.",
        "sweep": "Vary one or two numbers of a rig: which value to take, and how far it may be off.",
        "unknowns": "Say which of the values that a rig leaves open matters most: where to measure, where to spend.",
        "faults": "Show which single faults break a string and which guard stops each; no proof of safety.",
        "hear": "Measure pitch detectors on simulated plucks, on a recording, or a circuit on paper.",
        "export": "Hand a strategy's constants to firmware, with vectors to replay and a plan of acceptance.",
        "bench": "Say what to measure on the real rig with household means, and what it should read.",
    }.items():
        command = commands.add_parser(name, description=words, allow_abbrev=False)
        globals()[f"_{name}"](command)
        command.add_argument("--quiet", action="store_true", help="results only: no progress, no remarks")
        command.add_argument("--colour", choices=("auto", "always", "never"), default="auto", help="default: auto")
    return parser


def _new(add: Parser) -> None:
    add.add_argument("file", metavar="FILE", help="where to write it, such as my-rig.toml")
    add.add_argument("--from", dest="rig", metavar="RIG", default="default", help="ready rig to start from")
    add.add_argument("--draw", type=_whole, metavar="SEED", help="draw the unknown values: an exercise of your own")


def _parts(add: Parser) -> None:
    add.add_argument("name", metavar="NAME", nargs="?", help="one part; without it, all names")


def _explain(add: Parser) -> None:
    add.add_argument("word", metavar="WORD", nargs="+", help="such as overshoot_cents, backlash, 'time limit'")


def _check(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", help="rig file or ready rig")
    add.add_argument("--schema", action="store_true", help="print the JSON Schema of rig files instead")
    _of_loops(add)


def _sheet(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", default="default", help="rig file or ready rig; default: default")
    add.add_argument("--theory", action="store_true", help="add what theory says of every strategy, string by string")
    add.add_argument("--verify", action="store_true", help="with --theory: simulate beside it; where they differ, why")
    add.add_argument("--out", metavar="DIR", help="write sheet.md, sheet.json and plots here")
    _of_rigs(add)


def _run(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", default="default", help="rig file or ready rig; default: default")
    add.add_argument("--strategy", type=_names, metavar="A[,B]", help="strategies, on the same draws; default: first")
    add.add_argument("--string", metavar="E2", help="string to tune; default: the first")
    add.add_argument("--hide-truth", action="store_true", help="leave the true pitch out: guess it, then run again")
    add.add_argument("--seed", type=_whole, default=1, metavar="S", help="default: 1")
    add.add_argument("--out", metavar="DIR", help="write steps and timeline plots here; the sound too, --ear signal")
    _of_loops(add)


def _compare(add: Parser) -> None:
    add.add_argument("rigs", metavar="RIG", nargs="*", help="rig files, ready rigs or earlier result folders")
    add.add_argument("--strategies", type=_names, metavar="A,B", help="only these; default: all of each rig")
    add.add_argument("--strings", type=_names, metavar="E2,..", help="only these; default: all")
    _of_series(add, rigs=40, tunings=3)
    add.add_argument("--session", action="store_true", help="tune all strings of one body, in passes")
    add.add_argument("--order", type=_names, metavar="E2,..", help="with --session: all strings, in this order")
    add.add_argument("--fail-if", metavar="EXPR", help="exit 1 if true, such as 'in_tune<0.95' or 'fine:broken>0'")
    _of_loops(add)


def _sweep(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", default="default", help="rig file or ready rig; default: default")
    add.add_argument("--vary", action="append", required=True, metavar="KEY=LOW:HIGH:N[:log]",
                     help="N values of a number, in equal steps or ratios; may be given twice")  # fmt: skip
    add.add_argument("--strategies", type=_names, metavar="A,B", help="default: those varied, else all of the rig")
    add.add_argument("--best", metavar="MEASURE", help="search instead, for plucks, seconds, overshoot, ...")
    add.add_argument("--until", type=_width, metavar="WIDTH",
                     help="add machines until intervals of the share in tune are that narrow: 0.05")  # fmt: skip
    _of_series(add, rigs=60, tunings=4)
    _of_loops(add)


def _unknowns(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", default="default", help="rig file or ready rig; default: default")
    add.add_argument("--vary", action="append", default=[], metavar="KEY=LOW:HIGH",
                     help="only these, between these ends; default: all that the rig leaves open")  # fmt: skip
    add.add_argument("--strategies", type=_names, metavar="A,B", help="default: the first of the rig")
    _of_series(add, rigs=128, tunings=1)
    _of_loops(add)


def _faults(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", default="default", help="rig file or ready rig; default: default")
    add.add_argument("--faults", type=_names, metavar="A,B", help="default: all; several at once are joined by +")
    add.add_argument("--guards", type=_names, metavar="A,B", help="default: all that the rig can have")
    add.add_argument("--strategies", type=_names, metavar="A,B", help="default: the first of the rig")
    add.add_argument("--strings", type=_names, metavar="E2,..", help="only these; default: all")
    add.add_argument("--rare", action="store_true", help="ask instead how often a sound but noisy machine breaks one")
    add.add_argument("--show", metavar="FAULT:GUARD", help="tell of one fault and one guard, string by string")
    _of_series(add, rigs=100, tunings=1)
    _of_loops(add)


def _of_series(add: Parser, *, rigs: int, tunings: int) -> None:
    add.add_argument("--rigs", dest="specimens", type=_count, default=rigs, metavar="N",
                     help=f"machines drawn; default: {rigs}")  # fmt: skip
    add.add_argument(
        "--tunings", type=_count, default=tunings, metavar="K", help=f"tunings of each; default: {tunings}"
    )
    add.add_argument("--seed", type=_whole, default=1, metavar="S", help="default: 1")
    where = add.add_mutually_exclusive_group()
    where.add_argument("--jobs", type=_count, metavar="J", help="processes; default: as many as pay")
    where.add_argument("--cluster", metavar="ADDRESS", help="run on a dask scheduler, such as tcp://host:8786")
    add.add_argument("--out", metavar="DIR", help="write journal, tables, findings and plots here")
    add.add_argument("--resume", action="store_true", help="go on with the runs missing in --out")


def _hear(add: Parser) -> None:
    add.set_defaults(ear="signal")
    add.add_argument("rig", metavar="RIG", nargs="?", help="rig file or ready rig; default: default")
    add.add_argument("--detectors", type=_names, metavar="A,B", help="parts of the library, your own, or all")
    add.add_argument("--strings", type=_names, metavar="E2,..", help="only these; default: all")
    add.add_argument("--seed", type=_whole, metavar="S", help="default: 1")
    add.add_argument("--out", metavar="DIR", help="write hear.json and plots here")
    add.add_argument("--wav", metavar="FILE", help="hear a recording instead, through RIG if one is given")
    add.add_argument("--target", metavar="NOTE", help="with --wav: what the string should be, such as E2")
    add.add_argument("--circuit", action="store_true", help="study microphone, front end and converter on paper")
    add.add_argument("--fit", metavar="FILE", help="write a statistical ear that errs like this one")
    _own_detector(add)
    _of_rigs(add)


def _bench(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", default="default", help="rig file or ready rig; default: default")
    add.add_argument("--strings", type=_names, metavar="E2,..", help="only these; default: all")
    add.add_argument("--trial", type=_whole, metavar="N", help="carry it out on simulated machine N: an exercise")
    add.add_argument("--seed", type=_whole, default=1, metavar="S", help="default: 1")
    add.add_argument("--out", metavar="DIR", help="write bench.csv here, a log to fill in")
    _of_rigs(add)


def _export(add: Parser) -> None:
    add.add_argument("rig", metavar="RIG", nargs="?", default="default", help="rig file or ready rig; default: default")
    add.add_argument("--strategy", metavar="A", help="which one; default: the first")
    add.add_argument("--format", choices=("c", "json"), default="c", help="a C header or JSON; default: c")
    add.add_argument("--seed", type=_whole, default=1, metavar="S", help="of vectors and prediction; default: 1")
    add.add_argument("--out", metavar="DIR", help="write constants, vectors, reference and acceptance plan here")
    _changes(add)


def _of_loops(add: Parser) -> None:
    add.add_argument("--ear", choices=("statistical", "signal"), default="statistical",
                     help="hear by drawn errors, or by the sound and a detector; default: statistical")  # fmt: skip
    _own_detector(add)
    _of_rigs(add)


def _own_detector(add: Parser) -> None:
    add.add_argument("--detector", action="append", default=[], metavar="NAME=PATH:CLASS",
                     help="detector of your own, usable as part NAME; may be repeated")  # fmt: skip


def _of_rigs(add: Parser) -> None:
    _changes(add)
    add.add_argument("--json", action="store_true", help="print the result as JSON")


def _changes(add: Parser) -> None:
    add.add_argument("--set", dest="changes", action="append", default=[], metavar="KEY=VALUE",
                     help="change a key of the rig; may be repeated")  # fmt: skip
    add.add_argument("--controller", dest="controllers", action="append", default=[], metavar="NAME=PATH:CLASS",
                     help="controller of your own, usable as kind NAME; may be repeated. It works in a process "
                     "of its own: 1 s for an answer, 1 GB of memory; no security sandbox")  # fmt: skip


def _names(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if not names:
        raise argparse.ArgumentTypeError("expected names with commas between")
    return names


def _whole(text: str) -> int:
    return _number(text, 0)


def _count(text: str) -> int:
    return _number(text, 1)


def _width(text: str) -> float:
    try:
        width = float(text)
    except ValueError:
        width = 0.0
    if not 0.0 < width < 1.0:
        raise argparse.ArgumentTypeError(f"expected a share between 0 and 1, such as 0.05, found '{text[:20]}'")
    return width


def _number(text: str, least: int) -> int:
    if not text.isdecimal() or len(text) > 9 or int(text) < least:
        raise argparse.ArgumentTypeError(f"expected a whole number from {least} to 999999999, found '{text[:20]}'")
    return int(text)
