"""Theory of a rig: its numbers from the rig's own, and the perfect machine as it predicts (independent arithmetic)."""

import json
import math

import numpy as np
import pytest
from scipy.signal import lfilter

from controllers import CONTROLLERS
from controllers.theory import critical_gain, limit_cycle
from controllers.theory_linear import linear_errors
from scenarios.load import load_rig
from sim.build import build
from sim.cli.screen import clean
from sim.design.theory import NEVER, OPEN, PARTLY, SURE, THEORIES, Theory, plain, theory
from sim.design.theory_verify import Check, differing, verify

WIDE = "instrument.start_cents={low=-60,high=60}"

SHARP = "instrument.start_cents={low=20,high=60}"


def found(*changes: str, rig: str = "theory", kind: str = "bang-bang") -> Theory:
    """Return the theory of a strategy of a kind on the only, or first, string of a rig."""
    scenario = load_rig(rig, changes=(f'strategies.x.kind="{kind}"', *changes))
    return theory(scenario, ["x"])[0]


def checked(*changes: str, rig: str = "theory", kind: str = "bang-bang") -> Check:
    scenario = load_rig(rig, changes=(f'strategies.x.kind="{kind}"', WIDE, *changes))
    return verify(scenario, theory(scenario, ["x"]))[0]


@pytest.mark.parametrize("kind", CONTROLLERS)
def test_every_kind_has_a_theory_that_fits_into_json(kind: str) -> None:
    assert kind in THEORIES
    data = json.loads(json.dumps(clean(plain(found(kind=kind)))))
    assert data["judged"]["goes"] > 0.0
    assert data["judged"]["unit"] in ("loop gain", "cents", "cents/s")
    assert data["linear_loop"]["holds_from_cents"] < data["linear_loop"]["holds_to_cents"]


@pytest.mark.parametrize("kind", CONTROLLERS)
def test_the_perfect_machine_does_what_theory_says(kind: str) -> None:
    """No play, noise, friction: the plucks of each kind on the rig of the textbook, median of 24 starts, to one."""
    check = checked("ear.hop_s=0.05", kind=kind)
    assert check.differs == check.why == ()
    assert check.simulated.finished_share == check.predicted.finished_share == 1.0
    assert check.simulated.plucks == pytest.approx(check.predicted.plucks, abs=1.0)
    assert check.simulated.error_cents <= check.predicted.error_cents


@pytest.mark.parametrize("kind", ["bang-bang", "two-step", "halving", "proportional", "proportional-integral"])
def test_so_does_the_perfect_machine_in_rhythm(kind: str) -> None:
    check = checked('strategies.x.driving="overlapped"', "ear.computing_s=0.3", kind=kind)
    assert check.differs == ()


def test_a_step_beyond_its_band_hunts_from_the_starts_that_theory_says() -> None:
    check = checked("strategies.x.step_deg=30")
    slope = found().loop.slopes.middle
    assert check.differs == ()
    assert check.predicted.finished_share < 0.6
    assert check.simulated.finished_share == pytest.approx(check.predicted.finished_share, abs=0.15)
    assert check.simulated.swing_cents == pytest.approx(30.0 * slope, rel=0.15)  # machines differ
    assert check.predicted.swing_cents == pytest.approx(limit_cycle(30.0 * slope, 0)[0])


def test_slope_and_gain_are_those_of_the_plant() -> None:
    theory_says, chain = found(kind="proportional"), build(load_rig("theory"), "E4").chain
    slope = chain.cents_per_knob_deg(chain.string.tension_at_hz(chain.string.target_hz))
    assert theory_says.loop.slopes.middle == pytest.approx(slope, rel=1e-12)
    assert theory_says.claim.goes == pytest.approx(0.5 * slope, rel=1e-12)
    assert theory_says.loop.slopes.low < slope < theory_says.loop.slopes.high


@pytest.mark.parametrize(
    ("rig", "kind"),
    [("default", "bang-bang"), ("ukulele", "two-step"), ("theory", "halving"), ("default", "proportional"),
     ("theory", "proportional-integral")],
)  # fmt: skip
def test_what_theory_takes_is_sure_on_every_string(kind: str, rig: str) -> None:
    """The recommended value, put into the rig, comes to rest in every corner; a little more than the limit does not."""
    first = theory(load_rig(rig, changes=(f'strategies.x.kind="{kind}"',)), ["x"])
    for each in first:
        taken = load_rig(
            rig, changes=(f'strategies.x.kind="{kind}"', f"strategies.x.{each.claim.key}={each.recommended}",
                          *(["strategies.x.first_step_deg=100"] if kind == "halving" else [])),
        )  # fmt: skip
        again = next(other for other in theory(taken, ["x"]) if other.string == each.string)
        assert again.claim.goes * again.loop.slopes.steepest() <= again.claim.most * (1.0 + 1e-9)
        if "gain" not in each.claim.key:
            assert again.claim.goes * again.loop.slopes.steepest() == pytest.approx(again.claim.most, rel=1e-9)


def test_a_slope_twice_the_believed_is_where_the_inverse_fails() -> None:
    slope = found(kind="inverse").loop.slopes.middle
    for share, rests in ((0.6, True), (0.45, False)):
        claim = found(f"strategies.x.believed_cents_per_deg={share * slope}", kind="inverse").claim
        assert (claim.goes < claim.most) is rests
        assert (claim.moves(-50.0) < math.inf) is rests
    assert found(kind="inverse").believed_cents_per_deg == pytest.approx(slope)


def test_delay_follows_from_how_the_machine_is_driven() -> None:
    """A step is waited for; in rhythm, 0.2 s a pluck, window 10 ms and 0.5 s of computing are two plucks late."""
    assert found("ear.computing_s=0.5").loop.decisions == 0
    rhythm = found("ear.computing_s=0.5", 'strategies.x.driving="overlapped"')
    assert rhythm.loop.sample_s == pytest.approx(0.2)
    assert rhythm.loop.decisions == 2
    spin = found("ear.computing_s=0.5", "ear.hop_s=0.1", kind="proportional-spin")
    assert spin.loop.sample_s == pytest.approx(0.1)
    assert spin.loop.decisions == math.ceil(spin.loop.latency_s / 0.1)
    assert spin.claim.most == pytest.approx(critical_gain(spin.loop.decisions))


def test_where_theory_cannot_tell_it_says_so() -> None:
    late = ("ear.computing_s=0.5", 'strategies.x.driving="overlapped"')
    assert found(*late, kind="secant").rests == OPEN
    assert found('strategies.x.driving="turning"').rests == OPEN
    assert found(kind="secant").rests == SURE
    assert math.isnan(found(*late, kind="secant").plucks)


def test_no_band_no_rest() -> None:
    """Without a deadband bang-bang goes to and fro for ever: ``s`` peak to peak, two readings a round."""
    never = found("strategies.x.deadband_cents=0")
    assert (never.rests, never.plucks, never.recommended) == (NEVER, math.inf, 0.0)
    assert never.cycle() == pytest.approx((never.claim.goes, 2.0))


@pytest.mark.parametrize(("step", "rests"), [(3.0, SURE), (12.0, PARTLY)])
def test_rest_is_judged_in_the_corner_of_the_steepest_slope(step: float, rests: str) -> None:
    assert found(f"strategies.x.step_deg={step}").rests == rests


def test_wrappers_enter_where_theory_knows_them() -> None:
    plain_one, median = (found("task.pluck_limit=200", f"strategies.x.median_of={n}") for n in (0, 3))
    assert median.plucks == (plain_one.plucks - 2) * 3 + 2 + 2
    assert found("strategies.x.deadband_cents=0", "strategies.x.finish_from_below_deg=5").loop.left_out == (
        "finish from below",
    )
    loose = ("coupler.slop_deg=10", 'nut.part="free"')
    play = found(*loose).loop.lost_cents
    assert found(*loose, "strategies.x.take_up_deg=10").loop.lost_cents < 1e-9 < play


def test_error_is_the_widest_of_band_and_step_and_the_noise() -> None:
    each = found(rig="default", kind="proportional")
    loop = each.loop
    assert each.error_cents == pytest.approx(loop.band_cents + loop.noise_cents)
    coarse = found("motor.resolution_deg=20", kind="proportional")
    step = coarse.loop.motor_step_cents
    assert coarse.error_cents == pytest.approx(step / (2.0 * coarse.claim.goes) + coarse.loop.noise_cents)


@pytest.mark.parametrize("driving", ["step", "overlapped"])
@pytest.mark.parametrize("kind", ["proportional", "proportional-integral", "inverse"])
def test_the_linear_loop_as_polynomials_is_the_loop(kind: str, driving: str) -> None:
    """Numerator, denominator and delay run as a filter, closed by hand: the pitch as it is read, a delay later."""
    one = found("ear.computing_s=0.3", f'strategies.x.driving="{driving}"', kind=kind)
    data = plain(one)["linear_loop"]
    above, below = np.array(data["open_loop"]["numerator"]), np.array(data["open_loop"]["denominator"])
    delayed = [*[0.0] * (data["delay_samples"] + len(below) - len(above)), *above]
    closed = np.polyadd(np.pad(below, (0, data["delay_samples"])), above)
    late = data["delay_samples"]
    output = lfilter(np.pad(delayed, (0, len(closed) - len(delayed))), closed, np.ones(40))
    integral = one.claim.also.get("integral_loop_gain", 0.0)
    steps = linear_errors(-1.0, one.claim.goes, data["delay_samples"], integral)
    assert output[late:] == pytest.approx([1.0 + next(steps) for _ in output[late:]], abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "kind", "effect"),
    [
        ((SHARP, "coupler.slop_deg=25"), "bang-bang", "play"),
        (("ear.pluck_cents=4",), "bang-bang", "noise"),
        (("strategies.x.largest_move_deg=6",), "proportional", "largest move"),
        ((SHARP, "nut.friction=0.6", "nut.wrap_deg=80", "nut.relaxation_share=0"), "bang-bang", "friction"),
        (("motor.resolution_deg=12", "strategies.x.step_deg=5"), "bang-bang", "motor step"),
    ],
)
def test_an_effect_put_into_the_perfect_machine_is_named(changes: tuple[str, ...], kind: str, effect: str) -> None:
    check = checked(*changes, kind=kind)
    assert check.differs
    assert check.why == (effect,)


def test_what_differs_is_what_is_further_apart_than_stated() -> None:
    predicted = checked().predicted
    assert differing(predicted, predicted) == ()
    assert differing(predicted, predicted._replace(plucks=math.inf)) == ("plucks",)
    assert differing(predicted, predicted._replace(finished_share=0.7)) == ("finished_share",)
    assert differing(predicted, predicted._replace(error_cents=0.1)) == ()
    assert differing(predicted, predicted._replace(error_cents=2.3)) == ("error_cents",)
