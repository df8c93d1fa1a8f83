"""Benchmarks of drives: a run with all that makes a drive real against the simplest one, on the same tunings."""

from statistics import median

from scenarios.load import load_text
from sim.corners import course
from sim.evaluate import Bench
from sim.metrics import measured
from sim.series.row import Item
from tests.benchmarks.timing import REPETITIONS, cpu, spread

LAW = '[strategies.fine]\nkind = "proportional"\n'
SIMPLE = 'format = 1\n[motor]\npart = "ideal"\n[nut]\npart = "free"\n' + LAW
REAL = 'format = 1\n[motor]\npart = "gear-motor-298"\n[supply]\npart = "9v-fresh"\n[nut]\npart = "bone-nut"\n' + LAW
ITEMS = [Item(0, 0, string, specimen, tuning) for string in range(6) for specimen in range(4) for tuning in range(5)]


def real_over_simple() -> list[float]:
    """Return the cost of a run with stick-slip nut, gear motor and battery over that of the simplest, pair by pair."""
    simple, real = (Bench((load_text(text, "rig.toml"),), 1) for text in (SIMPLE, REAL))

    def seconds(bench: Bench) -> float:
        return cpu(lambda: [measured(course(bench.record(item))) for item in ITEMS])

    return [seconds(real) / seconds(simple) for _ in range(REPETITIONS + 1)][1:]  # the first builds the specimens


def drives() -> dict[str, float]:
    """Time real drives."""
    ratios = real_over_simple()
    print(f"run with a real drive / simplest drive  {spread(ratios)}   (wanted at most 2.5)")
    return {"real_over_simple_drive": median(ratios)}
