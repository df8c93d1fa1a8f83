"""A sweep lands on the theory of the loop: bang-bang is sure to stop up to a step of ``2 h / (d + 1)`` cents.

The bound is the sampled integrator with delay, independent arithmetic in ``controllers.theory``.
"""

from functools import partial
from random import Random

import numpy as np
import pytest

from controllers.theory import stopping_half_band
from scenarios.load import load_rig
from scenarios.schema import Range, Scenario
from sim.design.facts import describe
from sim.series.compare import compare
from sim.series.measures import tried
from sim.series.sweep import Size, idle, settings, sweep
from sim.series.sweep_axis import Axis, parse_axes, parse_axis
from sim.series.sweep_keys import numeric_keys
from sim.series.sweep_region import mean_of

STEP = "strategies.relay.step_deg"
RADII_MM = [round(Random(7 + place).uniform(2.0, 6.0), 2) for place in range(3)]


def exact(tolerance_cents: float, decisions: int, radius_mm: float = 3.0) -> tuple[str, ...]:
    """The textbook's loop: one machine like the other, only the start is drawn, readings ``decisions`` late."""
    string = load_rig("theory").strings["E4"]
    known = [
        f"strings.E4.{key}={string.nominal().__getattribute__(key)!r}" for key in string.values if _open(string, key)
    ]
    return (
        *known, "nut.friction=0.0", "instrument.start_cents={low=-60,high=60}", f"head.post_radius_mm={radius_mm}",
        "player.pluck_s=1.0", f"ear.computing_s={float(decisions)}", 'strategies.relay.driving="overlapped"',
        f"strategies.relay.deadband_cents={tolerance_cents}", f"task.tolerance_cents={tolerance_cents}",
        "task.pluck_limit=300", "task.time_limit_s=3000.0", "require={plucks=300.0,seconds=3000.0}",
    )  # fmt: skip


def _open(string, key: str) -> bool:
    return isinstance(string.values[key], Range)


def landing(tolerance_cents: float, decisions: int, radius_mm: float = 3.0):
    """Sweep steps of 0.95 times the bound and its powers of 1.15; return the answer and the values."""
    given = exact(tolerance_cents, decisions, radius_mm)

    def load(changes: tuple[str, ...]) -> Scenario:
        return load_rig("theory", changes=(*given, *changes))

    (facts,) = describe(load(()))
    per_half_band = stopping_half_band(1.0, decisions)
    bound_deg = tolerance_cents / per_half_band / facts.cents_per_knob_deg
    values = tuple(float(f"{0.95 * bound_deg * 1.15**power:.4g}") for power in range(-3, 3))
    axis = Axis(STEP, "deg", True, values, False)
    size = Size(specimens=16, tunings=4, jobs=1)
    found = sweep(settings(load, [axis]), [axis], size, usual=False).summary["answers"][0]["all"]
    return found, values, facts.cents_per_knob_deg


def sure_to_stop(found, values, per_deg: float, tolerance_cents: float) -> None:
    assert found["off"][0]["high"] == values[3]  # the last step within the bound meets, the next one does not
    assert found["off"][0]["fails_above"] == values[4]
    (taken,) = found["recommended"]
    mean_way_cents = 30.0 - tolerance_cents
    more_plucks = mean_way_cents / per_deg * (1 / taken - 1 / values[3])
    assert values[0] < taken <= values[3]
    assert more_plucks < 2.0  # within a pluck of the fewest, and a pluck for whole numbers of them


@pytest.mark.parametrize(("decisions", "tolerance_cents"), [(0, 3.0), (1, 4.0), (2, 6.0)])
def test_recommended_step_lands_on_the_bound_for_delay_and_tolerance(decisions, tolerance_cents) -> None:
    found, values, per_deg = landing(tolerance_cents, decisions)
    sure_to_stop(found, values, per_deg, tolerance_cents)


@pytest.mark.parametrize("radius_mm", RADII_MM)
def test_recommended_step_lands_on_the_bound_for_drawn_post_radii(radius_mm) -> None:
    found, values, per_deg = landing(5.0, 1, radius_mm)
    sure_to_stop(found, values, per_deg, 5.0)


def test_pairing_halves_the_interval_of_two_near_steps_at_least() -> None:
    """Variance of a difference: paired ``var(a - b)``, unpaired ``var(a) + var(b)``; common random numbers."""
    load = partial(load_rig, "default")
    rigs = [load(changes=(f"strategies.fine.step_deg={step}",)) for step in (3.0, 3.1)]
    found = compare(rigs, strategies=["fine"], strings=["E2", "D3"], specimens=40, tunings=2, jobs=1)
    one, other = (mean_of(each, "plucks") for each in tried(found.grid, found.rows))
    assert (one - other).std() <= 0.5 * np.hypot(one.std(), other.std())


def test_rows_of_a_sweep_are_those_of_each_value_alone() -> None:
    axes = parse_axes(["strategies.relay.step_deg=2:6:3"], numeric_keys(load_rig("theory")), most=2)
    scenarios = settings(lambda changes: load_rig("theory", changes=changes), axes)
    found = sweep(scenarios, axes, Size(specimens=3, tunings=2, jobs=1), usual=True)
    for place, scenario in enumerate(scenarios):
        alone = compare([scenario], strategies=["relay"], specimens=3, tunings=2, jobs=1).rows
        mine = found.rows[found.rows["rig"] == place]
        assert [mine[name].tolist() for name in ("plucks", "start_cents")] == [
            alone[name].tolist() for name in ("plucks", "start_cents")
        ]


@pytest.mark.parametrize(
    ("text", "idles"),
    [
        ("strategies.relay.step_deg=2:6:2", False),
        ("motor.resolution_deg=0:0.001:2", False),
        ("ear.wild_cents=100:600:2", True),
    ],
)
def test_a_key_that_changes_no_run_is_found_in_a_first_trial(text, idles) -> None:
    axis = parse_axis(text, numeric_keys(load_rig("theory")))
    scenarios = settings(lambda changes: load_rig("theory", changes=changes), [axis])
    assert (idle(scenarios, [axis], Size()) == [axis.key]) is idles
