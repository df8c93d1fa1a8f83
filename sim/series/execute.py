"""Runs many items: here, in processes, or on any executor; the rows are the same and only their order differs."""

import math
import os
import pickle
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from multiprocessing import get_context
from typing import Any, Protocol

import numpy as np

from scenarios.schema import Scenario
from sim.seeds import Seed
from sim.series.grid import Rows
from sim.series.plugins import Plugin
from sim.series.row import Item
from sim.series.worker import RUNS, Chunk, Kind, Package, evaluate_here, evaluate_package, ready, start
from sim.trace import Outcome

CHUNK_S = 0.3  # work of one chunk: long beside the cost of sending it, short beside the patience of whoever waits
FIRST_CHUNK = 20  # runs, while their cost is unknown
IN_FLIGHT = 2  # chunks per worker: one at work, one waiting
WORTH_S = 4.0  # work beyond which starting processes pays (estimate)
IN_WORKERS = {
    **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1"),
    "PYTHONSAFEPATH": "1",  # a models.py in the working folder must not reach a worker
}
"""Environment of workers, where the caller's own says nothing else."""

Take = Callable[[Rows], None]
Submit = Callable[[Sequence[Item]], "Future[Chunk]"]


class Items(Protocol):
    """Items to run: a list, or anything that has a length and makes them when a slice is asked for."""

    def __len__(self) -> int: ...

    def __getitem__(self, span: slice, /) -> Sequence[Item]: ...


def execute(
    scenarios: tuple[Scenario, ...],
    items: Items,
    seed: Seed,
    *,
    take: Take,
    jobs: int | None = None,
    executor: Executor | None = None,
    plugins: tuple[Plugin, ...] = (),
    kind: Kind = RUNS,
) -> None:
    """Evaluate all items and hand their rows to ``take``, chunk by chunk, as they finish.

    ``jobs`` is a number of processes: 1 stays in this one, None starts processes only when that pays. A worker that
    dies is replaced and what it had in hand is tried once more, run by run; a run that its worker dies of again is
    given the outcome *crashed*. An ``executor`` of your own is used as it is. Raises ``ValueError`` when workers cannot
    start.
    """
    work = _Work(items, 1)
    here = _here(scenarios, seed, kind)
    if executor is None and jobs is None:
        jobs = _try_out(work, here, take) if _can_travel(scenarios) else 1
    if executor is None and jobs == 1:
        _drain(work, here, take, 1)
        return
    workers = jobs or processors()
    work.workers, package = workers, Package(pickle.dumps(scenarios), seed, plugins, kind)
    if executor is not None:
        _drain(work, _on(executor, package), take, IN_FLIGHT * workers)
    else:
        _in_processes(work, package, take, workers)


def processors() -> int:
    """Return how many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class _Work:
    """Items in chunks of about ``CHUNK_S``; what is in hand is known, so that nothing is lost when a worker dies."""

    def __init__(self, items: Items, workers: int) -> None:
        self.workers, self.in_hand = workers, dict[Future[Chunk], list[Item]]()
        self._items, self._next, self._run_s = items, 0, 0.0

    def next_chunk(self) -> list[Item]:
        size = max(1, int(CHUNK_S / self._run_s)) if self._run_s else FIRST_CHUNK
        size = min(size, math.ceil(self.left() / self.workers))
        chunk = list(self._items[self._next : self._next + size])
        self._next += size
        return chunk

    def left(self) -> int:
        return len(self._items) - self._next

    def left_s(self) -> float:
        return self.left() * self._run_s

    def learn(self, chunk: Chunk) -> None:
        self._run_s = max(chunk.seconds / len(chunk.rows), 1e-6)


def _drain(work: _Work, submit: Submit, take: Take, window: int) -> None:
    """Keep ``window`` chunks in flight until none is left; what was in hand stays there when an executor breaks."""
    while work.left() or work.in_hand:
        while work.left() and len(work.in_hand) < window:
            chunk = work.next_chunk()
            work.in_hand[submit(chunk)] = chunk
        done, _ = wait(work.in_hand, return_when=FIRST_COMPLETED)
        for future in done:
            result = future.result()
            del work.in_hand[future]
            work.learn(result)
            take(result.rows)


def _here(scenarios: tuple[Scenario, ...], seed: Seed, kind: Kind) -> Submit:
    def submit(items: Sequence[Item]) -> "Future[Chunk]":
        future: Future[Chunk] = Future()
        future.set_result(evaluate_here(scenarios, seed, items, kind))
        return future

    return submit


def _on(executor: Executor, package: Package) -> Submit:
    return lambda items: executor.submit(evaluate_package, package, items)


def _try_out(work: _Work, here: Submit, take: Take) -> int:
    """Run two chunks here; return 1 when the rest is not worth starting processes."""
    for _ in range(2):
        if work.left():
            result = here(work.next_chunk()).result()
            work.learn(result)
            take(result.rows)
    return processors() if work.left_s() > WORTH_S else 1


def _can_travel(scenarios: tuple[Scenario, ...]) -> bool:
    """Tell whether workers could import every class; those of a script or notebook live only there."""
    try:
        return b"__main__" not in pickle.dumps(scenarios)
    except (pickle.PicklingError, AttributeError, TypeError):
        return False


def _in_processes(work: _Work, package: Package, take: Take, workers: int) -> None:
    while work.left() or work.in_hand:
        suspects, work.in_hand = list(work.in_hand.values()), {}
        for rows in _once_more([item for suspect in suspects for item in suspect], package):
            take(rows)
        try:
            with _pool(min(workers, max(1, work.left()))) as pool:
                _drain(work, _on(pool, package), take, IN_FLIGHT * workers)
        except BrokenExecutor:
            continue


def _once_more(items: list[Item], package: Package) -> Iterator[Rows]:
    """Give the rows of items that were in hand when a worker died, one by one in a fresh process.

    An item that this one dies of is crashed, and no other; the next has a fresh process again.
    """
    left = list(items)
    while left:
        try:
            with _pool(1) as pool:
                while left:
                    rows = pool.submit(evaluate_package, package, left[:1]).result().rows
                    del left[0]
                    yield rows
        except BrokenExecutor:
            yield crashed(left[:1], package.kind.dtype)
            del left[0]


def crashed(items: Sequence[Item], dtype: "np.dtype[Any]") -> Rows:
    """Return rows of runs that took their process with them: outcome crashed, no measures."""
    rows = np.zeros(len(items), dtype=dtype)
    for name in dtype.names or ():
        if dtype[name] == np.float64:
            rows[name] = math.nan
    for name in Item.__slots__:
        rows[name] = [getattr(item, name) for item in items]
    rows["outcome"] = list(Outcome).index(Outcome.CRASHED)
    return rows


@contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Give a pool of fresh processes, each with one thread for linear algebra; an error or an interrupt ends them."""
    context = get_context("spawn" if sys.platform == "win32" else "forkserver")
    if sys.platform != "win32":
        context.set_forkserver_preload(["sim.series.worker", "sim.evaluate"])
    pool = ProcessPoolExecutor(workers, context, start)
    try:
        with _worker_environment():
            _see_ready(pool)
        yield pool
    except BaseException:
        for process in list((pool._processes or {}).values()):  # public only from Python 3.14 on
            process.terminate()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


@contextmanager
def _worker_environment() -> Iterator[None]:
    """Lend the process the environment that its workers are to inherit."""
    before = dict(os.environ)
    os.environ.update({name: value for name, value in IN_WORKERS.items() if name not in before})
    try:
        yield
    finally:
        for name in IN_WORKERS.keys() - before.keys():
            os.environ.pop(name, None)


def _see_ready(pool: ProcessPoolExecutor) -> None:
    try:
        pool.submit(ready).result()
    except BrokenExecutor:
        advice = "call it under  if __name__ == '__main__':  in a script, or with jobs=1"
        raise ValueError(f"worker processes end before they start; {advice}") from None
