"""The command ``pegloop``: results on stdout, talk on stderr, an exit code that scripts can trust."""

import os
import sys

from sim.cli.help import HELP, NEXT_STEPS
from sim.cli.refused import Refused

DONE, VERDICT_FAILED, BAD_USAGE, CRASHED, INTERNAL, INTERRUPTED = 0, 1, 2, 3, 4, 130


def main(argv: list[str] | None = None) -> int:
    """Run one command and return its exit code; never raises."""
    words = sys.argv[1:] if argv is None else argv
    _prepare()
    try:
        code = _answer(words)
        sys.stdout.flush()
    except BrokenPipeError:
        code = DONE
    _close_quietly()
    return code


def _prepare() -> None:
    """One thread for linear algebra, before numpy is imported; characters that a terminal lacks become ``?``."""
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
        os.environ.setdefault(name, "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _close_quietly() -> None:
    """Point stdout elsewhere when its reader has gone, so that the interpreter's last flush does not complain."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _answer(words: list[str]) -> int:
    try:
        if words in ([], ["-h"], ["--help"]):
            sys.stdout.write(f"{HELP if words else NEXT_STEPS}\n")
            return DONE
        return _command(words)
    except Refused as refusal:
        return _complain(BAD_USAGE, *refusal.lines)
    except SystemExit as left:  # argparse, after the help of one command
        return left.code if isinstance(left.code, int) else DONE
    except KeyboardInterrupt as stopped:
        return _complain(INTERRUPTED, f"pegloop: {stopped or 'interrupted'}")
    except BrokenPipeError:
        raise
    except Exception as bug:
        return _internal(bug)


def _command(words: list[str]) -> int:
    from scenarios.shadow import impostor
    from sim.cli.arguments import parse

    if hidden := impostor():
        raise Refused(hidden)
    args = parse(words)
    if args.version:
        sys.stdout.write(f"pegloop {_version()}\n")
    elif args.command is None:
        sys.stdout.write(f"{HELP if args.help else NEXT_STEPS}\n")
    else:
        from importlib import import_module

        from sim.cli.screen import Screen

        args.words = words
        code: int = import_module(f"sim.cli.{args.command}").answer(args, Screen(args.colour, args.quiet))
        return code
    return DONE


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("pegloop")
    except PackageNotFoundError:
        return "(not installed: run from its source folder)"


def _complain(code: int, *lines: str) -> int:
    for line in lines:
        sys.stderr.write(f"{line}\n")
    return code


def _internal(bug: Exception) -> int:
    if os.environ.get("PEGLOOP_DEBUG"):
        import traceback

        traceback.print_exception(bug)
    return _complain(
        INTERNAL,
        f"pegloop: internal error, {type(bug).__name__}: {str(bug).splitlines()[0] if str(bug) else 'no message'}",
        "this is a fault of pegloop: please report it with your command and the traceback that PEGLOOP_DEBUG=1 shows",
    )
