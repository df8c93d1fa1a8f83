"""An existing cluster as executor: a scheduler of dask.distributed, from the optional extra ``cluster``."""

import logging
from collections.abc import Iterator
from concurrent.futures import CancelledError, Executor
from contextlib import contextmanager

from sim.cli.refused import Refused

PATIENCE = "10s"  # for the scheduler to answer
TALKERS = ("distributed", "distributed.client", "tornado.application", "asyncio")  # loggers, each with its own level


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """Give the executor of a scheduler, and how many threads its workers have.

    Raises ``Refused`` when none answers, and when it gives up on runs: their workers died, or it was shut down.
    """
    try:
        from distributed import Client, KilledWorker
    except ImportError:
        raise Refused("--cluster: needs the extra cluster: python -m pip install 'pegloop[cluster]'") from None
    for talker in TALKERS:
        logging.getLogger(talker).setLevel(logging.CRITICAL)  # what goes wrong is told here, in one line
    try:
        client = Client(address, timeout=PATIENCE)
    except (OSError, TimeoutError, ValueError) as error:
        raise Refused(f"--cluster {address}: no scheduler answers there ({type(error).__name__})") from None
    with client:
        threads = sum(client.nthreads().values())
        if threads == 0:
            raise Refused(f"--cluster {address}: the scheduler has no workers")
        try:
            yield client.get_executor(), threads
        except (KilledWorker, CancelledError) as error:
            raise Refused(
                f"--cluster {address}: gave up on some runs ({type(error).__name__}: workers died or were stopped); "
                "finished runs are kept in --out DIR, go on with --resume"
            ) from None
