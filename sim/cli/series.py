"""What all commands that run a series share: where it runs, and one line for what stops it."""

import argparse
import shlex
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from sim.cli.refused import Refused
from sim.cli.screen import Screen

if TYPE_CHECKING:
    from sim.series.comparison import Comparison


@contextmanager
def workers(args: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Give ``executor`` and ``jobs`` of a series: those of ``--cluster``, else none and ``--jobs``."""
    if args.cluster is None:
        yield {"executor": None, "jobs": args.jobs}
        return
    from sim.cli.cluster import cluster

    with cluster(args.cluster) as (executor, threads):
        yield {"executor": executor, "jobs": threads}


@contextmanager
def refusing(args: argparse.Namespace) -> Iterator[None]:
    """Run a series inside: what it refuses becomes ``Refused``; an interrupt says how to go on."""
    from sim.series.store import StoreError

    if args.resume and not args.out:
        raise Refused("--resume: say which folder to go on with, by --out DIR")
    try:
        yield
    except (StoreError, ValueError) as error:
        raise Refused(str(error)) from error
    except OSError as error:
        raise Refused(f"--out {args.out}: {error.strerror or error}") from error
    except KeyboardInterrupt:
        again = shlex.join(["pegloop", *(word for word in args.words if word != "--resume"), "--resume"])
        kept = f"interrupted; finished runs are kept, go on with: {again}"
        raise KeyboardInterrupt(kept if args.out else "interrupted; with --out DIR it could be resumed") from None


def crashes(found: "Comparison", screen: Screen) -> bool:
    """Tell whether runs crashed, and say how many."""
    crashed = found.crashed()
    if crashed:
        screen.talk(f"{crashed} runs crashed; pegloop run with the same rig, strategy and string shows the error")
    return crashed > 0
