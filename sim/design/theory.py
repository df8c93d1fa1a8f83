"""Theory of a rig: what formulas say of every strategy on every string before anything is simulated.

Numbers of the loop come from ``theory_loop``, what they mean for a law from ``theory_claims``. Theory takes the plant
for an integrator in cents that is read late: it knows no noise, friction, play or largest move, except where a field
says so. ``theory_verify`` sets the simulation beside it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, Final

from controllers.belief import BELIEVED, told
from scenarios.schema import Scenario, Strategy
from sim.design.theory_claims import THEORIES, Claim, Cycle
from sim.design.theory_loop import Loop, Slopes, loop, slopes
from sim.plan import believed_cents_per_deg

STARTS: Final = 201  # starts, evenly spread over the range, of which the median pluck is taken
CURVED: Final = 0.05  # change of the slope up to which the loop counts as linear
CURVED_CENTS: Final = 600.0 * math.log2(1.0 + CURVED)
SURE, OFTEN, PARTLY, NEVER, OPEN = "sure", "middle", "partly", "never", "open"
"""It comes to rest: in the worst corner too, in the middle of all ranges, from some starts, from none; or who knows."""


@dataclass(frozen=True, slots=True)
class Theory:
    """What theory says of one strategy on one string."""

    strategy: str
    kind: str
    string: str
    believed_cents_per_deg: float | None
    """What the law takes for the slope; None for one that believes nothing."""
    loop: Loop
    claim: Claim
    recommended: float
    """Value of the claim's key: the best one in the corner where the slope is steepest."""
    rests: str
    """Whether it is sure to come to rest."""
    resting_share: float
    """Share of the starts from which it does, noise left out."""
    plucks: float
    """Median over the range of starts; infinite where half of them never rest."""
    error_cents: float
    """Within which 95 of 100 finished tunings lie: the widest of band, step and half a friction slip, and the noise."""

    def cycle(self) -> Cycle | None:
        """Return peak to peak in cents and period in readings of what goes on for ever; None if it rests."""
        return self.claim.beyond if self.rests in (PARTLY, NEVER) else self.claim.hunts


def theory(scenario: Scenario, strategies: Sequence[str] | None = None) -> list[Theory]:
    """Return what theory says of each strategy that it knows (all, or those named) on each string, in order."""
    known = [
        each
        for each in scenario.strategies
        if each.kind in THEORIES and (strategies is None or each.name in strategies)
    ]
    found = {string: slopes(scenario, string) for string in scenario.strings}
    return [theory_of(scenario, each, string, found[string]) for each in known for string in scenario.strings]


def unknown_kinds(scenario: Scenario) -> list[str]:
    """Return the names of strategies that theory says nothing of."""
    return [each.name for each in scenario.strategies if each.kind not in THEORIES]


def theory_of(scenario: Scenario, strategy: Strategy, string: str, found: Slopes) -> Theory:
    """Return what theory says of a strategy whose kind is in ``THEORIES`` on a string of these slopes."""
    law = told(strategy.controllers[string].nominal(), believed_cents_per_deg(scenario, string))
    one = loop(scenario, strategy, string, law, found)
    claim = THEORIES[strategy.kind](law, one)
    plucks, resting = plucks_and_share(claim, one, _spread(*one.start_cents))
    return Theory(
        strategy=strategy.name,
        kind=strategy.kind,
        string=string,
        believed_cents_per_deg=getattr(law, BELIEVED, None),
        loop=one,
        claim=claim,
        recommended=_recommended(law, claim, found),
        rests=_rests(claim, found, resting),
        resting_share=resting,
        plucks=plucks,
        error_cents=max(claim.rests_cents, one.slip_cents / 2.0) + one.noise_cents,
    )


def _recommended(law: Any, claim: Claim, found: Slopes) -> float:
    """Return the key's value that is best where the slope is steepest; a belief works the other way round."""
    times = claim.best / (claim.goes * found.steepest())
    value: float = getattr(law, claim.key)
    return value / times if claim.key == BELIEVED and times else value * times


def _rests(claim: Claim, found: Slopes, resting: float) -> str:
    if math.isnan(resting):
        return OPEN
    if claim.goes * found.steepest() <= claim.most:
        return SURE
    if claim.goes <= claim.most:
        return OFTEN
    return PARTLY if resting > 0.0 else NEVER


def _spread(low: float, high: float) -> list[float]:
    return [low + (high - low) * place / (STARTS - 1) for place in range(STARTS)]


def plucks_and_share(claim: Claim, one: Loop, starts: Sequence[float]) -> tuple[float, float]:
    """Return the median pluck of tunings from these errors, and the share that ends at rest within the task's plucks.

    One that does not counts as infinitely many plucks. Both are nan where theory cannot tell.
    """
    plucks = [_plucks(claim.moves(start), one) for start in starts] if one.fitting else [math.nan]
    if any(map(math.isnan, plucks)):
        return math.nan, math.nan
    return median(plucks), sum(map(math.isfinite, plucks)) / len(plucks)


def _plucks(moves: float, one: Loop) -> float:
    """Return the plucks of a tuning with so many moves; infinite beyond the task's limit."""
    plucks = (moves * one.median_of + one.median_of - 1 + one.finish_readings) / one.readings_per_pluck
    return math.inf if plucks > one.pluck_limit else plucks if math.isnan(plucks) else float(math.ceil(plucks))


def plain(found: Theory) -> dict[str, Any]:
    """Return theory as data for JSON, units in the keys or beside the numbers."""
    one, claim, cycle = found.loop, found.claim, found.cycle()
    return {
        "strategy": found.strategy,
        "kind": found.kind,
        "string": found.string,
        "believed_cents_per_deg": found.believed_cents_per_deg,
        "cents_per_deg": one.slopes._asdict(),
        "decisions": one.decisions,
        "sample_s": one.sample_s,
        "judged": {"key": claim.key, "goes": claim.goes, "goes_low": claim.goes * one.slopes.low / one.slopes.middle,
                   "goes_high": claim.goes * one.slopes.steepest(), "unit": claim.unit, "most": claim.most,
                   "best": claim.best, "recommended": found.recommended},
        "rests": found.rests,
        "resting_share": found.resting_share,
        "cycle": None if cycle is None else cycle._asdict(),
        "lost_cents": one.lost_cents,
        "empty_moves_a_reversal": claim.empty,
        "error": {"within_cents": found.error_cents, "law_cents": claim.rests_cents, "motor_step_cents":
                  one.motor_step_cents, "friction_slip_cents": one.slip_cents, "noise_cents": one.noise_cents},
        "plucks_median": found.plucks,
        "left_out": list(one.left_out),
        "also": dict(claim.also),
        "linear_loop": linear(found),
    }  # fmt: skip


def linear(found: Theory) -> dict[str, Any]:
    """Return the loop as polynomials in ``z``, the highest power first, delays as a power of ``1/z`` beside them.

    ``plant``: degrees asked for to cents. ``open_loop``: cents read to cents of pitch, with the sign turned round; None
    for a law that is not linear. It holds from the band up to the largest move, or to where the slope has changed by
    a twentieth.
    """
    one, claim = found.loop, found.claim
    plant = {"numerator": [one.slopes.middle], "denominator": [1.0, -1.0], "unit": "cents/deg"}
    whole = None
    if claim.controller is not None:
        above, below = claim.controller
        whole = {"numerator": list(above), "denominator": list(below), "unit": "1"}
    reach = one.largest_cents / claim.goes if claim.controller else math.inf
    return {
        "plant": plant,
        "open_loop": whole,
        "delay_samples": one.decisions,
        "sample_s": one.sample_s,
        "holds_from_cents": claim.rests_cents,
        "holds_to_cents": min(reach, CURVED_CENTS),
        "slope_changes_percent": 100.0 * CURVED,
    }
