"""Speed-up of two processes: a series, and a pure computation of like length beside it."""

import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context


def burn(count: int) -> float:
    """Compute for a while."""
    total = 0.0
    for number in range(count):
        total += number * 1e-9
    return total


def _pure(workers: int) -> float:
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(pool.map(burn, [1000] * workers))
        start = time.perf_counter()
        list(pool.map(burn, [1_500_000] * 16))
        return time.perf_counter() - start


def _runs(items: list[tuple[int, int]]) -> int:
    from scenarios.load import load_rig
    from sim.evaluate import evaluate
    from sim.series.row import Item

    global _SCENARIOS
    if _SCENARIOS is None:
        _SCENARIOS = (load_rig("default"),)
    rows = [evaluate(_SCENARIOS, Item(0, 2, string, specimen, 0), 1) for string, specimen in items]
    return len(rows)


_SCENARIOS = None


def _series(workers: int) -> float:
    chunks = [
        [(string, specimen) for string in range(6) for specimen in range(start, start + 40)]
        for start in range(0, 640, 40)
    ]
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(pool.map(_runs, chunks[:workers] * 2))
        start = time.perf_counter()
        list(pool.map(_runs, chunks))
        return time.perf_counter() - start


def series_speed_up() -> tuple[float, float]:
    """Return the speed-up from one to two processes of a series and of a pure computation."""
    return _series(1) / _series(2), _pure(1) / _pure(2)
