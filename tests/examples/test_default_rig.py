"""What README says beforehand of the default comparison holds, by the rig's own numbers and in the result."""

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_all_start_methods, get_context

import numpy as np
import pytest

from scenarios.load import load_rig
from sim.design.facts import describe
from sim.series.compare import compare

RIG = load_rig("default")


def step_cents(strategy: str, string: str) -> float:
    """Return the pitch change of one step of a bang-bang strategy on the nominal string."""
    slope = {facts.string: facts.cents_per_knob_deg for facts in describe(RIG)}[string]
    law = next(one for one in RIG.strategies if one.name == strategy).controllers[string].nominal()
    return float(law.step_deg * slope)


def test_the_coarse_step_exceeds_the_band_of_e2_most_and_the_fine_one_fits_everywhere() -> None:
    band = 2 * RIG.task.tolerance_cents
    steps = {string: step_cents("coarse", string) for string in RIG.strings}
    assert max(steps, key=steps.__getitem__) == "E2"
    assert steps["E2"] == pytest.approx(24.0, abs=1.0)
    assert steps["E2"] > 3.5 * band
    assert all(step_cents("fine", string) < band for string in RIG.strings)


def test_coarse_fails_on_e2_fine_takes_more_plucks_and_proportional_settles_sooner() -> None:
    found = {one["name"]: one for one in compare((RIG,), specimens=30, tunings=1, jobs=1).summary["strategies"]}
    shares = {string: one["in_tune"]["share"] for string, one in found["coarse"]["by_string"].items()}
    assert shares["E2"] == min(shares.values())
    assert found["coarse"]["by_string"]["E2"]["in_tune"]["high"] < found["fine"]["by_string"]["E2"]["in_tune"]["low"]
    assert found["fine"]["plucks"]["median"] > 1.5 * found["proportional"]["plucks"]["median"]
    assert found["proportional"]["seconds"]["median"] < found["fine"]["seconds"]["median"]


@pytest.mark.slow
def test_every_start_method_gives_the_same_rows() -> None:
    serial = compare((RIG,), specimens=30, tunings=2, jobs=1).rows
    for method in get_all_start_methods():
        with ProcessPoolExecutor(2, mp_context=get_context(method)) as pool:
            rows = compare((RIG,), specimens=30, tunings=2, executor=pool).rows
        assert rows.dtype == serial.dtype
        assert all(
            np.array_equal(rows[name], serial[name], equal_nan=rows[name].dtype.kind == "f")
            for name in rows.dtype.names
        )
