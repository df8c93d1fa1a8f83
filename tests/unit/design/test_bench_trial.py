"""The bench on the plant: what a hand reads there is what the closed forms and the facts of the rig say."""

from collections.abc import Iterator

import pytest
from pytest import approx

from scenarios.load import load_rig
from scenarios.schema import Scenario
from sim.build import Rig
from sim.design import predictions
from sim.design.bench import bench
from sim.design.bench_trial import SLACK_STEP_DEG, STEP_DEG, read, readings_of
from sim.design.measurements import MEASUREMENTS, Measurement
from sim.design.strung import taut
from sim.seeds import Chance, Streams, run_key

MACHINES = [
    ("default", []),
    ("electric-bass", ["nut.part=plastic-nut"]),
    ("electric-guitar", []),
    ("violin", []),
    ("ukulele", ["motor.part=servo-continuous-9g"]),
    ("default", ["motor.part=gear-motor-100", "nut.part=free"]),
    ("default", ["motor.part=stepper-geared", "supply.part=aa-4"]),
]
TOLERANCE = {  # share of the reading, and what comes on top
    "knob-turn": (1e-9, 0.0),
    "coupler-wiggle": (0.0, STEP_DEG),
    "tightening-weight": (1e-9, 0.0),
    "lifting-weight": (2e-3, 0.0),  # a crawl within 0.1 % of the stall torque counts as a stall
    "loosening-weight": (1e-9, 0.0),
    "reversal": (0.0, STEP_DEG),
    "pressing": (0.0, 0.01),  # of cents: the hand stops up to a step above the target
    "supply-open": (0.0, 0.0),
    "motor-time": (0.03, 0.0),  # spin-up and run-out of a gear motor; pulse deadband and jitter of a servo
    "slack-wiggle": (0.0, SLACK_STEP_DEG),
    "supply-stalled": (2e-3, 0.0),
    "motor-travel": (0.0, 1.5),  # pulse deadband and jitter at both ends
}
SEED = 7


def machines(scenario: Scenario, strings: list[str], count: int) -> Iterator[tuple[int, dict[str, Rig]]]:
    streams = Streams(SEED)
    for specimen in range(count):
        yield specimen, taut(scenario, strings, streams, specimen)


def reading(measurement: Measurement, machine: Rig, setting: float, specimen: int) -> float:
    return read(measurement.name, machine, setting, Chance(Streams(SEED), machine.string, run_key(specimen, 0)))


def possible(scenario: Scenario) -> list[Measurement]:
    turning = scenario.motor.nominal().stroke_deg() == float("inf")
    never = {"ear-spread", *(["motor-travel"] if turning else [])}
    return [each for each in MEASUREMENTS if each.serves(scenario) and each.name not in never]


@pytest.mark.parametrize(("name", "changes"), MACHINES, ids=lambda value: value if isinstance(value, str) else None)
def test_a_reading_is_what_the_closed_form_says(name: str, changes: list[str]) -> None:
    scenario = load_rig(name, changes=changes)
    first, *_, last = scenario.strings
    for specimen, machine in machines(scenario, [first, last], 3):
        for measurement in possible(scenario):
            for string in dict.fromkeys([first, last] if measurement.each == "string" else [first]):
                setting = measurement.choose([machine[string]])
                low, high = measurement.predicted(machine[string], setting)
                found = reading(measurement, machine[string], setting, specimen)
                share, more = TOLERANCE[measurement.name]
                allowed = share * abs(high) + more + 1e-9
                assert low - allowed <= found <= high + allowed, (measurement.name, string, specimen)


def test_nearly_all_machines_read_within_the_bands() -> None:
    """Bands hold 95 of 100 machines: of 300 fresh readings at least 90 % are inside, and not all."""
    scenario = load_rig("electric-guitar")
    found = bench(scenario, ["E2", "G3"], 1)
    inside = []
    for specimen, machine in machines(scenario, ["E2", "G3"], 20):
        for asked in found.asked:
            for band in asked.bands:
                value = reading(asked.measurement, machine[band.string or "E2"], asked.setting, specimen)
                more = TOLERANCE.get(asked.measurement.name, (0.0, 0.0))[1]
                inside.append(band.low - more <= value <= band.high + more)
    assert len(inside) >= 280
    assert 0.90 <= sum(inside) / len(inside) < 1.0


def test_weights_and_turns_agree_with_the_facts_of_the_rig() -> None:
    """The same numbers on paper and on the bench, where the body is rigid and the string slides freely."""
    from sim.design.facts import describe

    scenario = load_rig("default", changes=["body.part=rigid", "nut.part=free"])
    machine = taut(scenario, scenario.strings)
    for fact in describe(scenario):
        chance = Chance(Streams(SEED), fact.string, 0)
        weight_g = read("tightening-weight", machine[fact.string], 100.0, chance)
        assert weight_g == approx(predictions.grams(fact.torque_up_nm, 100.0), rel=1e-9)
        loose_g = read("loosening-weight", machine[fact.string], 100.0, chance)
        assert loose_g == approx(predictions.grams(fact.torque_down_nm, 100.0), rel=1e-9)
        lifted_g = read("lifting-weight", machine[fact.string], 100.0, chance)
        assert lifted_g == approx(predictions.grams(fact.motor_torque_nm, 100.0), rel=2e-3)
        assert read("knob-turn", machine[fact.string], 1.0, chance) == approx(fact.cents_per_knob_deg, rel=0.01)
        stroke = read("motor-travel", machine[fact.string], 0.0, chance) * fact.cents_per_knob_deg
        assert stroke == approx(fact.stroke_cents, rel=0.01)


def test_readings_are_there_for_every_row() -> None:
    scenario = load_rig("ukulele")
    found = bench(scenario, list(scenario.strings), 1)
    readings = readings_of(scenario, found, 3)
    assert list(readings) == [(each.measurement.name, band.string) for each in found.asked for band in each.bands]
