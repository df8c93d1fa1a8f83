"""What the sheet proposes makes the row fit: the change is applied as ``--set`` would, and the sheet made anew."""

import pytest
from pytest import approx

from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.design.checks import BATTERY, CHECKS
from sim.design.levers import LEVERS, changed, value
from sim.design.rows import Change, Row
from sim.design.sheet import design

WEAK = "motor.part=servo-9g"
CASES = {
    "tighten": ("direct-drive",),
    "loosen": ("direct-drive",),
    "step": ("default", "motor.part=servo-continuous-9g"),
    "reserve": ("default", "head.ratio=2"),
    "travel": ("default", "coupler.regrip=false"),
    "ear": ("default", "task.tolerance_cents=0.8"),
    "supply": ("default", "unit.part=shared-5v", "supply.part=bench-5v", "supply.resistance_ohm=8", WEAK),
    "time": ("default", "motor.part=stepper-plain", "motor.step_rate_hz=1.5", "task.time_limit_s=10"),
    "battery": ("ukulele", "supply.capacity_ah=0.00008"),
}
"""By check, a rig on which it is not met."""
STEPS = {
    "pulse_deadband_us": ("direct-drive",),
    "microsteps": (
        "default",
        "motor.part=stepper-plain",
        "head.ratio=4",
        "motor.microsteps=1",
        "motor.holding_torque_nm=20",
    ),
    "friction": ("default", "nut.friction=0.9", "nut.wrap_deg=40", "nut.kinetic_share=0.5"),
    "time_constant_ms": ("default", "motor.part=gear-motor-100", "motor.time_constant_ms=200"),
    "encoder_counts": ("default", "motor.part=gear-motor-298-encoder", "motor.encoder_counts=30"),
}
"""By lever, a rig on which it mends the smallest step."""


def settings(change: Change, scenario: Scenario) -> list[str]:
    """Return a change as it is given on the command line."""
    names = [strategy.name for strategy in scenario.strategies] if "*" in change.key else [""]
    return [f"{change.key.replace('*', name)}={change.value}" for name in names]


def refused(rig: str, *changes: str) -> list[Row]:
    return [row for row in design(load_rig(rig, changes=changes)).rows if row.verdict == "does not fit"]


def mended(rig: tuple[str, ...], row: Row, change: Change) -> Row:
    """Return the row after a change of the rig."""
    name, *changes = rig
    more = settings(change, load_rig(name, changes=changes))
    rows = design(load_rig(name, changes=[*changes, *more])).rows
    return next(one for one in rows if (one.string, one.check) == (row.string, row.check))


@pytest.mark.parametrize("check", [*CHECKS, BATTERY])
def test_every_proposed_change_makes_its_row_fit(check: str) -> None:
    hardest = min((row for row in refused(*CASES[check]) if row.check == check), key=lambda row: row.margin)
    assert hardest.changes
    for change in hardest.changes:
        assert mended(CASES[check], hardest, change).verdict == "fits", change


@pytest.mark.parametrize("key", STEPS)
def test_whatever_sets_the_step_can_be_made_finer(key: str) -> None:
    row = next(row for row in refused(*STEPS[key]) if row.check == "step")
    change = next(change for change in row.changes if change.key.partition(".")[2] == key)
    assert mended(STEPS[key], row, change).verdict == "fits"


def test_the_smallest_change_comes_first_and_a_little_less_would_not_do() -> None:
    row = next(row for row in refused("direct-drive") if row.check == "tighten")
    sizes = [max(change.times, 1.0 / change.times) for change in row.changes]
    assert sizes == sorted(sizes)
    ratio = next(change for change in row.changes if change.key == "head.ratio")
    nearly = design(load_rig("direct-drive", changes=[f"head.ratio={0.97 * ratio.value}"]))
    assert next(one for one in nearly.rows if (one.string, one.check) == (row.string, "tighten")).verdict != "fits"


def test_torque_is_in_proportion_to_the_motor() -> None:
    """A margin of 1.5 in the middle needs 1.5 / margin times the stall torque, unless the worst corner needs more."""
    row = next(row for row in refused("direct-drive") if row.check == "tighten")
    stronger = next(change for change in row.changes if change.key == "motor.stall_torque_ref_nm")
    assert stronger.times >= 1.49 / row.margin
    assert stronger.times == approx(1.5 / row.margin, rel=0.4)


def test_what_a_change_spoils_is_said() -> None:
    """A finer ratio turns the knob, but makes a short travel shorter: no hand may re-grip here."""
    (row, *_) = (row for row in refused("direct-drive", "coupler.regrip=false") if row.check == "tighten")
    ratio = next(change for change in row.changes if change.key == "head.ratio")
    harder = design(load_rig("direct-drive", changes=["coupler.regrip=false", f"head.ratio={ratio.value}"]))
    unmet = {one.check for one in harder.rows if one.string == row.string and one.margin < 1.0}
    assert set(ratio.spoils) <= unmet


@pytest.mark.parametrize("check", LEVERS)
def test_levers_change_what_they_name_and_nothing_else(check: str) -> None:
    for rig in ("default", "geared-stepper", "gear-motor"):
        scenario = load_rig(rig)
        for lever in LEVERS[check]:
            now = value(scenario, "E2", lever)
            if now is not None:
                other = changed(scenario, "E2", lever, now / 2 if not lever.whole() else 2)
                assert value(other, "E2", lever) == (now / 2 if not lever.whole() else 2)
                assert value(scenario, "E2", lever) == now
                assert value(other, "E4", lever) in (now, value(other, "E2", lever))
