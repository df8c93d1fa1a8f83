"""Strings that creep or change their temperature, through the whole loop: the machine believes, time goes on."""

import pytest
from pytest import approx

from controllers.proportional import Proportional
from models.strings.climate import Climate
from models.strings.creep import Creep
from models.strings.drift import Drift
from models.units import cents, to_ns
from sim.build import Rig
from sim.corners import course
from sim.loop import Record
from sim.metrics import measured
from tests.loop.rigs import cents_per_knob_degree, changed, rig, tune

STEADY = Climate(
    string_change_k=0.0, body_change_k=0.0, string_expansion_ppm_k=12.0, body_expansion_ppm_k=4.0,
    string_pace_s=20.0, body_pace_s=600.0,
)  # fmt: skip
NEW = Creep(cents_per_decade=20.0, onset_s=60.0)
OLD = Creep(cents_per_decade=0.0, onset_s=60.0)
HOUR_S = 3600.0


def drifting(creep: Creep, climate: Climate) -> Rig:
    machine = rig()
    return changed(machine, chain=changed(machine.chain, drift=Drift(machine.chain.string, creep, climate)))


def tuned(machine: Rig) -> Record:
    gain = 0.7 / cents_per_knob_degree(machine)
    return tune(machine, Proportional(gain_deg_per_cent=gain, deadband_cents=1.5), -80.0)


def later_cents(record: Record, seconds: float) -> float:
    """Return the true error so long after the start of the run, nobody touching the string."""
    tension = record.instrument.tension_n(record.rig.string, to_ns(seconds))
    string = record.rig.chain.string
    return cents(string.first_partial_hz(tension), string.target_hz)


def test_a_new_string_is_finished_in_tune_and_goes_flat_later() -> None:
    """By as much as the law says: the decades between the end of the run and an hour."""
    record = tuned(drifting(NEW, STEADY))
    found, end_s = measured(course(record)), record.end_ns * 1e-9
    assert found["in_tune"]
    fallen = later_cents(record, HOUR_S) - found["final_error_cents"]
    assert fallen == approx(NEW.cents(HOUR_S) - NEW.cents(end_s), abs=1e-8)
    assert later_cents(record, HOUR_S) < -10.0


def test_a_settled_string_in_a_steady_climate_is_the_simplest_rig_bit_for_bit() -> None:
    still, plain = tuned(drifting(OLD, STEADY)), tuned(rig())
    assert measured(course(still)) == measured(course(plain))
    assert still.readings == plain.readings


@pytest.mark.parametrize(("body_k", "sign"), [(-10.0, -1.0), (10.0, 1.0)])
def test_a_body_that_grows_pulls_its_strings_sharp_after_the_machine_is_done(body_k: float, sign: float) -> None:
    """Wood along the grain grows by 4 ppm/K, the string stays as warm as it was."""
    record = tuned(drifting(OLD, changed(STEADY, body_change_k=body_k)))
    assert measured(course(record))["in_tune"]
    assert sign * later_cents(record, HOUR_S) > 3.0
