"""What a worker does: unpack the scenarios once, then evaluate chunk after chunk."""

import gc
import pickle
import signal
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from threading import Lock
from typing import Any, Final

import numpy as np

from scenarios.schema import Scenario
from sim.seeds import Seed
from sim.series.grid import Rows
from sim.series.plugins import Plugin, load_plugin
from sim.series.row import ROW, Item

GARBAGE: Final = 20000  # new objects between two looks for cycles
_ONE_AT_A_TIME = Lock()  # random streams are moved from key to key: threads of one process must take turns


Evaluate = Callable[[Sequence[Scenario], Item, Seed], Any]


@dataclass(frozen=True, slots=True)
class Kind:
    """What is asked of each run of a series."""

    module: str
    """Where ``evaluate(scenarios, item, seed)`` lives, which gives a row."""
    dtype: np.dtype[Any]
    """Of a row; it begins with the fields of ``Item`` and the outcome."""
    name: str
    """Of what a result folder with such rows holds."""

    def evaluate(self) -> Evaluate:
        """Return the function, its module imported only now."""
        found: Evaluate = import_module(self.module).evaluate
        return found


RUNS = Kind("sim.evaluate", ROW, "runs")
"""Runs with their measures."""


@dataclass(frozen=True, slots=True)
class Package:
    """Scenarios as they travel to a worker."""

    scenarios: bytes
    """A pickle, opened after the plug-ins are loaded."""
    seed: Seed
    plugins: tuple[Plugin, ...]
    kind: "Kind"


@dataclass(frozen=True, slots=True)
class Chunk:
    """Rows of a chunk and the seconds that they took; the latter only decide how long the next chunk is."""

    rows: Rows
    seconds: float


def start() -> None:
    """Prepare a worker process: an interrupt is the parent's business, and what is loaded is no garbage.

    Runs leave few cycles, so that looking for them seldom saves a tenth of the time.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.freeze()
    gc.set_threshold(GARBAGE, *gc.get_threshold()[1:])


def ready() -> bool:
    """Answer that a worker has come up."""
    return True


def evaluate_here(scenarios: Sequence[Scenario], seed: Seed, items: Sequence[Item], kind: Kind = RUNS) -> Chunk:
    """Evaluate items in this process, one thread at a time."""
    evaluate = kind.evaluate()
    begun = time.perf_counter()
    rows = np.empty(len(items), dtype=kind.dtype)
    with _ONE_AT_A_TIME:
        for place, item in enumerate(items):
            rows[place] = evaluate(scenarios, item, seed)
    return Chunk(rows, time.perf_counter() - begun)


def evaluate_package(package: Package, items: Sequence[Item]) -> Chunk:
    """Evaluate items in a worker."""
    return evaluate_here(_unpacked(package.scenarios, package.plugins), package.seed, items, package.kind)


@lru_cache(maxsize=2)
def _unpacked(scenarios: bytes, plugins: tuple[Plugin, ...]) -> tuple[Scenario, ...]:
    for _, path, class_name in plugins:
        load_plugin(path, class_name)
    found: tuple[Scenario, ...] = pickle.loads(scenarios)
    return found
