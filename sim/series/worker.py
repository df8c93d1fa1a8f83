"""What a worker does: unpack the scenarios once, then evaluate chunk after chunk."""

import pickle
import signal
import time
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

import numpy as np

from scenarios.schema import Scenario
from sim.seeds import Seed
from sim.series.grid import Rows
from sim.series.plugins import Plugin, load_plugin
from sim.series.row import ROW, Item

_ONE_AT_A_TIME = Lock()  # random streams are moved from key to key: threads of one process must take turns


@dataclass(frozen=True, slots=True)
class Package:
    """Scenarios as they travel to a worker."""

    scenarios: bytes
    """A pickle, opened after the plug-ins are loaded."""
    seed: Seed
    plugins: tuple[Plugin, ...]


@dataclass(frozen=True, slots=True)
class Chunk:
    """Rows of a chunk and the seconds that they took; the latter only decide how long the next chunk is."""

    rows: Rows
    seconds: float


def start() -> None:
    """Prepare a worker process: an interrupt is the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def ready() -> bool:
    """Answer that a worker has come up."""
    return True


def evaluate_here(scenarios: Sequence[Scenario], seed: Seed, items: Sequence[Item]) -> Chunk:
    """Evaluate items in this process, one thread at a time."""
    from sim.evaluate import evaluate

    begun = time.perf_counter()
    rows = np.empty(len(items), dtype=ROW)
    with _ONE_AT_A_TIME:
        for place, item in enumerate(items):
            rows[place] = evaluate(scenarios, item, seed)
    return Chunk(rows, time.perf_counter() - begun)


def evaluate_package(package: Package, items: Sequence[Item]) -> Chunk:
    """Evaluate items in a worker."""
    return evaluate_here(_unpacked(package.scenarios, package.plugins), package.seed, items)


@lru_cache(maxsize=2)
def _unpacked(scenarios: bytes, plugins: tuple[Plugin, ...]) -> tuple[Scenario, ...]:
    for _, path, class_name in plugins:
        load_plugin(path, class_name)
    found: tuple[Scenario, ...] = pickle.loads(scenarios)
    return found
