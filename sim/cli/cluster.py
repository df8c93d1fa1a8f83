"""An existing cluster as executor: a scheduler of dask.distributed, from the optional extra ``cluster``."""

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from sim.cli.refused import Refused

PATIENCE = "10s"  # for the scheduler to answer


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """Give the executor of a scheduler, and how many threads its workers have. Raises ``Refused`` when none answers."""
    try:
        from distributed import Client
    except ImportError:
        raise Refused("--cluster: needs the extra cluster: python -m pip install 'pegloop[cluster]'") from None
    try:
        client = Client(address, timeout=PATIENCE)
    except (OSError, TimeoutError, ValueError) as error:
        raise Refused(f"--cluster {address}: no scheduler answers there ({type(error).__name__})") from None
    with client:
        threads = sum(client.nthreads().values())
        if threads == 0:
            raise Refused(f"--cluster {address}: the scheduler has no workers")
        yield client.get_executor(), threads
