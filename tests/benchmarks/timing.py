"""How times are taken and told."""

import subprocess
import time
from collections.abc import Callable
from statistics import quantiles

REPETITIONS = 15


def cpu(work: Callable[[], object]) -> float:
    """Return the CPU seconds of one call."""
    start = time.process_time()
    work()
    return time.process_time() - start


def wall(command: list[str]) -> float:
    """Return the wall seconds of a process."""
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def spread(values: list[float]) -> str:
    """Return median and quartiles."""
    low, middle, high = quantiles(values, n=4)
    return f"{middle:8.3g}  [{low:.3g} .. {high:.3g}]"
