"""``python -m tests.benchmarks``: how fast runs are, and against what. Prints a table and, last, one line of JSON.

Every ratio is formed inside a repetition, so that a machine whose speed drifts does not spoil it.
"""

import json
import os
import subprocess
import sys
from statistics import median

from tests.benchmarks.timing import REPETITIONS, cpu, spread, wall

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def runs_and_floor() -> dict[str, float]:
    """Time runs of the default rig against their unavoidable pieces: events, draws, arithmetic."""
    from scenarios.load import load_rig
    from sim.evaluate import Bench, evaluate
    from sim.plan import plan
    from sim.series.row import Item
    from tests.benchmarks.floor import Floor

    scenarios = (load_rig("default"),)
    place = [strategy.name for strategy in scenarios[0].strategies].index("proportional")
    items = [
        Item(0, place, string, specimen, tuning) for string in range(6) for specimen in range(5) for tuning in range(10)
    ]
    bench = Bench(scenarios, 1)
    records = [bench.record(item) for item in items]
    floor = Floor(records, plan(scenarios[0], scenarios[0].strategies[place], "E2").controller)
    for item in items:
        evaluate(scenarios, item, 1)
    rates, ratios = [], []
    for _ in range(REPETITIONS):
        whole = cpu(lambda: [evaluate(scenarios, item, 1) for item in items])
        pieces = cpu(floor.events) + cpu(floor.draws) + cpu(floor.arithmetic)
        rates.append(len(items) / whole)
        ratios.append(whole / pieces)
    plucks = sum(len(record.readings) for record in records) / len(records)
    print(f"step-and-listen runs per CPU second     {spread(rates)}   ({plucks:.1f} readings a run; wanted 2000)")
    print(f"run / events + draws + arithmetic       {spread(ratios)}   (wanted at most 2.5)")
    return {"runs_per_s": median(rates), "run_over_floor": median(ratios), "readings_per_run": plucks}


def two_processes() -> dict[str, float]:
    """Compare the speed-up of two processes with that of a pure computation in the same minute."""
    from tests.benchmarks.pool import series_speed_up

    pairs = [series_speed_up() for _ in range(5)]
    print(f"speed-up of two processes               {spread([ours for ours, _ in pairs])}")
    print(f"  of a pure computation beside it       {spread([pure for _, pure in pairs])}")
    shares = [ours / pure for ours, pure in pairs]
    print(f"  share of it                           {spread(shares)}   (wanted 0.9)")
    return {"speed_up_share": median(shares)}


def start_up() -> dict[str, float]:
    """Compare ``pegloop --help`` with the import of numpy, in fresh processes."""
    help_command = [sys.executable, "-m", "sim", "--help"]
    numpy_command = [sys.executable, "-c", "import numpy"]
    ratios = []
    for _ in range(REPETITIONS):
        ratios.append(wall(help_command) / wall(numpy_command))
    print(f"pegloop --help / import numpy           {spread(ratios)}   (wanted at most 0.4)")
    return {"help_over_numpy": median(ratios)}


def design_sheet() -> dict[str, float]:
    """Compare ``pegloop sheet`` on the default rig with the import of numpy, in fresh processes."""
    numpy_command = [sys.executable, "-c", "import numpy"]
    commands = ([sys.executable, "-m", "sim", "sheet"], [sys.executable, "-m", "sim", "check", "default"])
    sheets, checks = ([wall(command) / wall(numpy_command) for _ in range(REPETITIONS)] for command in commands)
    print(f"pegloop sheet / import numpy            {spread(sheets)}   (wanted at most 4)")
    print(f"  pegloop check beside it               {spread(checks)}")
    return {"sheet_over_numpy": median(sheets), "check_over_numpy": median(checks)}


def memory() -> dict[str, float]:
    """Compare the peak memory of 1,000 and 20,000 runs, in fresh processes."""
    peaks = []
    for specimens in (56, 1112):
        command = [sys.executable, "-m", "tests.benchmarks.peak", str(specimens)]
        peaks.append(float(subprocess.run(command, check=True, capture_output=True, text=True).stdout))
    print(f"peak memory at 1,000 and 20,000 runs    {peaks[0]:8.0f} and {peaks[1]:.0f} MB   (wanted flat)")
    return {"peak_mb_1000": peaks[0], "peak_mb_20000": peaks[1]}


def many_rows() -> dict[str, float]:
    """Keep, sum up and write 10,000 to a million invented rows, each in a fresh process."""
    found = {}
    print("rows         own MB   of files   journal s   summary s   table s     (own: wanted nearly flat)")
    for many in (10_000, 100_000, 1_000_000):
        command = [sys.executable, "-m", "tests.benchmarks.rows", str(many)]
        each = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        print(f"{many:9}  {''.join(f'{value:10.1f}' for value in each.values())}")
        found |= {f"{name}_of_{many}_rows": value for name, value in each.items()}
    return found


def hearing() -> dict[str, float]:
    """Time windows, detectors, runs and the bench of detectors of the signal ear."""
    from tests.benchmarks.hearing import bench_of_detectors, detectors, runs_with_either_ear, windows

    return windows() | detectors() | runs_with_either_ear() | bench_of_detectors()


def drives() -> dict[str, float]:
    """Time a run with a real drive against the simplest one."""
    from tests.benchmarks.drives import drives as time_drives

    return time_drives()


def sweeps() -> dict[str, float]:
    """Time a sweep of 10,000 runs over 20 values."""
    from tests.benchmarks.sweeps import sweeps as time_sweeps

    return time_sweeps()


def main() -> None:
    """Run every benchmark, or those whose names are given."""
    found: dict[str, float] = {}
    benchmarks = (runs_and_floor, two_processes, start_up, design_sheet, memory, many_rows, hearing, drives, sweeps)
    for benchmark in [each for each in benchmarks if not sys.argv[1:] or each.__name__ in sys.argv[1:]]:
        found |= benchmark()
    print(json.dumps({name: round(value, 4) for name, value in found.items()}))


if __name__ == "__main__":
    main()
