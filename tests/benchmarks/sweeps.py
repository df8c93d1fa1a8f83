"""What 10,000 runs over 20 values of one key cost."""

import time
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.timing import cpu

SPECIMENS, TUNINGS, VALUES = 42, 2, 20  # with six strings: 10,080 runs
KEY = "strategies.proportional.gain_deg_per_cent=0.3:1.2"
CHUNK = 400  # rows that come in at once: 0.3 s of runs


def sweeps() -> dict[str, float]:
    """Sweep the gain of the default rig: wall seconds in two processes, CPU seconds in one, those of judging."""
    from scenarios.load import load_rig
    from sim.series.sweep import Size, settings, sweep
    from sim.series.sweep_axis import parse_axes
    from sim.series.sweep_keys import numeric_keys
    from sim.series.sweep_summary import summarise

    axes = parse_axes([f"{KEY}:{VALUES}:log"], numeric_keys(load_rig("default")), most=2)

    def swept(jobs: int):
        scenarios = settings(lambda changes: load_rig("default", changes=changes), axes)
        return sweep(scenarios, axes, Size(specimens=SPECIMENS, tunings=TUNINGS, jobs=jobs), usual=True)

    begun = time.perf_counter()
    found = swept(2)
    wall_s, cpu_s = time.perf_counter() - begun, cpu(lambda: swept(1))
    judging_s = cpu(lambda: summarise(found.grid, found.rows, 1, axes=axes, usual=True, confidence=0.95))
    print(f"{len(found.rows)} runs over {VALUES} values, two processes {wall_s:7.1f} s   (wanted 10 on two idle cores)")
    print(f"  CPU seconds in one, of judging        {cpu_s:8.1f} and {judging_s:.1f}")
    share = journal_s(found.rows) / (cpu_s - judging_s)
    print(f"  journal / runs, orders to the disk in {share:8.2%}   (wanted at most 5 %)")
    return {"sweep_wall_s": wall_s, "sweep_cpu_s": cpu_s, "sweep_judging_cpu_s": judging_s, "journal_share": share}


def journal_s(rows) -> float:
    """Return the wall seconds of writing rows to a journal as they come in, until the disk has them."""
    from sim.series.journal import Journal

    with TemporaryDirectory(dir=Path.cwd()) as folder:
        journal, begun = Journal(Path(folder) / "journal"), time.perf_counter()
        for first in range(0, len(rows), CHUNK):
            journal.append(rows[first : first + CHUNK])
        journal.close()
        return time.perf_counter() - begun
