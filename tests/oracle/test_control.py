"""The linear loop that the design sheet hands over, against an independent control library: python-control.

It comes with the optional extra ``oracle`` and is never needed to run.
"""

from typing import Any

import numpy as np
import pytest

from controllers.theory import critical_gain, moves_to_rest
from controllers.theory_linear import critical_gain_with_integral, linear_errors, open_loop
from scenarios.load import load_rig
from sim.design.theory import plain, theory

pytestmark = pytest.mark.slow


@pytest.fixture
def control() -> Any:
    why = "the independent control library is not installed: pip install -e '.[oracle]'"
    return pytest.importorskip("control", reason=why)


def closed(control: Any, above: Any, below: Any, delay: int, sample_s: float) -> Any:
    """Return the closed loop from a wanted pitch to the pitch as it is read."""
    late = control.tf([1.0], [1.0, *[0.0] * delay], sample_s) if delay else 1.0
    return control.feedback(control.tf(above, below, sample_s) * late, 1.0)


@pytest.mark.parametrize("computing_s", [0.0, 0.3, 0.5])
@pytest.mark.parametrize("kind", ["proportional", "proportional-integral", "inverse"])
def test_step_response(control: Any, kind: str, computing_s: float) -> None:
    changes = (f'strategies.x.kind="{kind}"', 'strategies.x.driving="overlapped"', f"ear.computing_s={computing_s}")
    one = theory(load_rig("theory", changes=changes), ["x"])[0]
    data = plain(one)["linear_loop"]
    whole, late, sample_s = data["open_loop"], data["delay_samples"], data["sample_s"]
    loop = closed(control, whole["numerator"], whole["denominator"], late, sample_s)
    times = np.arange(60) * sample_s
    found = control.step_response(loop, times).outputs
    errors = linear_errors(-1.0, one.claim.goes, late, one.claim.also.get("integral_loop_gain", 0.0))
    assert found[late:] == pytest.approx([1.0 + next(errors) for _ in found[late:]], abs=1e-9)


@pytest.mark.parametrize("decisions", [0, 1, 2, 3])
@pytest.mark.parametrize("share", [0.0, 0.1])
def test_critical_gain_by_closed_loop_poles(control: Any, decisions: int, share: float) -> None:
    gain = critical_gain_with_integral(share, decisions) if share else critical_gain(decisions)
    for times, stable in ((0.999, True), (1.001, False)):
        above, below = open_loop(times * gain, share * times * gain)
        poles = closed(control, above, below, decisions, 1.0).poles()
        assert bool(max(abs(poles)) < 1.0) is stable


def test_moves_into_a_band_by_the_step_response(control: Any) -> None:
    """Without delay the law rests at the first reading inside: the first sample of the response within the band."""
    loop = closed(control, *open_loop(0.3), 0, 1.0)
    response = control.step_response(loop, np.arange(40.0)).outputs
    first = int(np.flatnonzero(abs(1.0 - response) <= 0.02)[0])
    assert moves_to_rest(-100.0, 2.0, 0, lambda read: 0.3 * read) == first
