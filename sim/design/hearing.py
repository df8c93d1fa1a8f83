"""How finely the statistical ear tells pitches apart: half of the band that holds 95 of 100 readings."""

import math
from typing import Final

from models.hearing.statistical import StatisticalEar
from models.units import CENTS_PER_OCTAVE, cents
from scenarios.schema import Scenario

NORMAL_95: Final = 1.96  # standard deviations about the mean that hold 95 % of a normal distribution
STEP_SPREAD: Final = 12.0**-0.5  # standard deviation of rounding, in steps


def resolution_cents(ear: StatisticalEar, target_hz: float, readings: int = 1, plucks: int = 1) -> float:
    """Return within how many cents the mean of so many readings from so many plucks lies, 95 times of 100.

    The run's part does not average out, the pluck's does over plucks. ``|steady| + 1.96 sqrt(run^2 + pluck^2 / plucks +
    (wander^2 + reading^2 + rounding^2) / readings)``; octaves and other gross errors are left out.
    """
    rounding = STEP_SPREAD * ear.resolution_hz * CENTS_PER_OCTAVE / (math.log(2.0) * target_hz)
    each = ear.wander_cents**2 + ear.reading_cents**2 + rounding**2
    spread = math.sqrt(ear.run_cents**2 + ear.pluck_cents**2 / plucks + each / readings)
    return abs(steady_cents(ear)) + NORMAL_95 * spread


def steady_cents(ear: StatisticalEar) -> float:
    """Return the error that every first reading has: bias, clock, and the glide at the middle of its window."""
    gliding = math.exp(-(ear.skip_s + ear.window_s / 2.0) / ear.glide_s)
    return ear.bias_cents + ear.glide_cents * gliding - cents(1.0 + ear.clock_ppm * 1e-6, 1.0)


def plucks_to_finish(scenario: Scenario) -> int:
    """Return the fewest plucks from which a strategy may take its finishing readings."""
    drivings = (driving for strategy in scenario.strategies for driving in strategy.drivings.values())
    most = max(int(str(driving.values["readings_per_pluck"])) for driving in drivings)
    return math.ceil(scenario.task.finish_readings / most)
