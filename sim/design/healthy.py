"""What a sound string asks of its machine: where it starts, and the torque at its highest pitch."""

from typing import Final

from models.drivetrain import Chain
from models.units import shifted
from scenarios.schema import Range, Scenario

MARGIN_CENTS: Final = 100.0  # beyond the range of starts that readings may lie (estimate: noise and overshoot)


def starts(scenario: Scenario) -> tuple[float, float]:
    """Return the lowest and the highest pitch error with which a tuning begins."""
    value = scenario.setting.values["start_cents"]
    if isinstance(value, Range):
        return value.low, value.high
    assert isinstance(value, int | float)
    return float(value), float(value)


def healthy_nm(chain: Chain, high_cents: float) -> float:
    """Return the torque at the knob that the highest healthy pitch asks for, the string about to slip in the nut."""
    highest_hz = shifted(chain.string.target_hz, max(high_cents, 0.0) + MARGIN_CENTS)
    grip = chain.friction.nut_static if chain.friction else 1.0
    return chain.turning_nm(grip * chain.string.tension_at_hz(highest_hz), 1)
