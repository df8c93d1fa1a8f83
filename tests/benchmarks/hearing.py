"""Benchmarks of hearing: one window against one transform of its length, a run with either ear, the bench of detectors.

A window is 1024 samples at 4000 a second on the default rig's E2; a transform is numpy's real one of 1024 points.
"""

import sys
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import numpy as np

from models.hearing.base import Window
from models.hearing.neighbours import neighbours
from models.hearing.signal import SignalEar
from models.instrument import Instrument
from scenarios.load import load_rig
from sim.build import build
from sim.ears import told_by_rig
from sim.evaluate import Bench
from sim.hearing.candidates import ALL, candidates
from sim.seeds import Chance, Streams
from sim.series.row import Item
from tests.benchmarks.timing import REPETITIONS, cpu, spread, wall

WINDOWS, TRANSFORMS = 60, 600
PLAIN = ("sound.second_share=0", "sound.glide_cents=0", "sound.neighbours_db=-200")
STREAMS = Streams(1)


def windows() -> dict[str, float]:
    """Time what the converter hands over: a plain string alone, and all that the default rig hears."""
    found = {}
    for name, changes, words in (
        ("plain_window", PLAIN, "window, one steady string / transform  "),
        ("default_window", (), "window, all that is heard / transform  "),
    ):
        ratios = _over_transforms(_recording(changes, alone=name == "plain_window"))
        wanted = "at most 15" if name == "plain_window" else "about 80"
        print(f"{words} {spread(ratios)}   (wanted {wanted})")
        found[f"{name}_over_transform"] = median(ratios)
    return found


def detectors() -> dict[str, float]:
    """Time each detector of the library on one window of the default rig."""
    scenario, samples = load_rig("default", ear="signal"), _recording((), alone=False)().samples
    found = {}
    for name, detector in candidates(scenario, [ALL], {}).items():
        told = told_by_rig(detector, scenario, "E2")
        ratios = _over_transforms(lambda told=told: told.estimate(samples, 4000.0))
        print(f"  {name:37} {spread(ratios)}")
        found[f"{name.replace('-', '_')}_over_transform"] = median(ratios)
    return found


def runs_with_either_ear() -> dict[str, float]:
    """Time the same tunings of the default rig with the signal ear and with the statistical one."""
    benches = [Bench((load_rig("default", ear=ear),), 1) for ear in ("signal", "statistical")]
    items = [Item(0, 2, string, specimen, 0) for string in range(6) for specimen in range(4)]
    readings = [sum(len(bench.record(item).readings) for item in items) for bench in benches]
    ratios = []
    for _ in range(REPETITIONS):
        signal, statistical = (cpu(lambda bench=bench: [bench.record(item) for item in items]) for bench in benches)
        ratios.append(signal / statistical)
    print(f"run with signal ear / statistical ear   {spread(ratios)}   (wanted at most 40; {readings} readings)")
    return {"signal_over_statistical": median(ratios)}


def bench_of_detectors() -> dict[str, float]:
    """Time ``pegloop hear`` on the default rig, in a fresh process."""
    seconds = wall([sys.executable, "-m", "sim", "hear"])
    print(f"pegloop hear, wall seconds              {seconds:8.3g}   (wanted at most 60)")
    return {"hear_s": seconds}


def _recording(changes: tuple[str, ...], *, alone: bool) -> Callable[[], object]:
    """Return a call that records one window; ``alone`` = without the strings beside it."""
    rig = build(load_rig("default", changes=changes, ear="signal"), "E2", STREAMS, 0)
    assert isinstance(rig.ear, SignalEar)
    ear = replace(rig.ear, scene=replace(rig.ear.scene, neighbours=neighbours(()))) if alone else rig.ear
    instrument = Instrument({"E2": rig.chain}, {"E2": rig.begins(-10.0).angles})
    instrument.pluck("E2", 0, 0.0)
    window, chance = Window("E2", 300_000_000, 556_000_000, 0, 0), Chance(STREAMS, "E2", 0)
    return lambda: ear.record(instrument, window, chance)


def _over_transforms(work: Callable[[], object]) -> list[float]:
    """Return the cost of a call in transforms, once a repetition."""
    noise = np.random.default_rng(1).standard_normal(1024)
    work()
    ratios = []
    for _ in range(REPETITIONS):
        ours = _each(work, WINDOWS)
        ratios.append(ours / _each(lambda: np.fft.rfft(noise), TRANSFORMS))
    return ratios


def _each(work: Callable[[], object], count: int) -> float:
    """Return the CPU seconds of one of many calls; no result is kept, so that none needs fresh memory."""

    def many() -> None:
        for _ in range(count):
            work()

    return cpu(many) / count
