"""The error budget of one string: what keeps the pitch from its target once the machine has finished.

A share is one-sided (it moves every tuning the same way, positive = sharp), a spread over tunings and machines (a
standard deviation), or both. How they are combined: one-sided shares add up with their signs to ``m``; spreads are
independent and add in squares to ``s``; of motor step and deadband only the wider one counts, since what rests in the
band is no further off for the step that took it there. The total is ``|m| + 1.96 s``, within which 95 % of tunings end
if shares are normal, and more where they are even. A step wider than the band may never come to rest in it; the total
then says where the pitch can be brought, finished or not. Octave errors and missed readings are not in it: they do not
end a tuning. In simulation 95 of 100 tunings ended within 0.7 to 1.1 times the total; where the nut grips, within 0.45
to 1.45 times, as relaxing goes on from, or takes back, what the last step left.
"""

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

from scenarios.schema import Scenario, Strategy
from sim.build import Rig
from sim.design.ear_shares import Finishing, ear_shares
from sim.design.share import P95, Share, even
from sim.design.steps import least_step
from sim.design.strung import taut
from sim.design.temperature import temperature_share
from sim.design.torque import tension_at_pitch_n

STEP, BAND = "motor step", "deadband"


class Change(NamedTuple):
    """A share taken away, and the total that is left."""

    share: str
    total_cents: float


@dataclass(frozen=True, slots=True)
class Budget:
    """What the pitch of one string may be off by after a strategy has finished."""

    string: str
    strategy: str
    tolerance_cents: float
    shares: tuple[Share, ...]

    def total_cents(self) -> float:
        """Return the error that 95 % of tunings stay within."""
        return total_cents(self.shares)

    def keeps_tolerance(self) -> bool:
        """Return whether the total lies within the tolerance."""
        return self.total_cents() <= self.tolerance_cents

    def without_cents(self, name: str) -> float:
        """Return the total with the share of that name at zero."""
        return total_cents(tuple(share for share in self.shares if share.name != name))

    def helps_most(self) -> Change:
        """Return the share whose absence lowers the total most."""
        return min((Change(share.name, self.without_cents(share.name)) for share in self.shares), key=_total)

    def contributions_cents(self) -> dict[str, float]:
        """Return the total split among the shares: ``|m|`` in proportion to sizes, ``1.96 s`` to squares."""
        counted = _counted(self.shares)
        sizes, spread = sum(abs(share.one_sided_cents) for share in counted), _spread_cents(counted)
        one_sided = abs(_one_sided_cents(counted)) / sizes if sizes else 0.0
        scale = P95 / spread if spread else 0.0
        return {share.name: one_sided * abs(share.one_sided_cents) + scale * share.spread_cents**2 for share in counted}


def plain(budget: Budget) -> dict[str, Any]:
    """Return a budget as data for JSON."""
    return {
        "string": budget.string,
        "strategy": budget.strategy,
        "tolerance_cents": budget.tolerance_cents,
        "total_cents": budget.total_cents(),
        "helps_most": budget.helps_most().share,
        "shares": [
            {
                **each._asdict(),
                "alone_cents": each.alone_cents(),
                "total_without_cents": budget.without_cents(each.name),
            }
            for each in budget.shares
        ],
    }


def error_budget(scenario: Scenario, string: str, strategy: str | None = None) -> Budget:
    """Return the budget of a string of the nominal specimen, all others taut.

    It is that after the named strategy, else after the rig's first.

    Raises ``KeyError`` for a strategy that the rig lacks.
    """
    chosen = _strategy(scenario, strategy)
    (rig,) = taut(scenario, (string,)).values()
    finishing = Finishing(scenario.task.finish_readings, chosen.drivings[string].nominal().readings_per_pluck)
    shares = (
        *ear_shares(scenario.ears[string], rig, finishing),
        Share(STEP, 0.0, even(least_step(rig, rig.machine.supply.source(0.0)).cents)),
        Share(BAND, 0.0, even(2.0 * _band_cents(scenario, chosen, string))),
        Share("slop", 0.0, even(_slop_cents(rig))),
        Share("nut relaxation", 0.0, even(2.0 * _nut_cents(rig, finishing))),
        temperature_share(scenario.climates[string], rig),
    )
    return Budget(string, chosen.name, scenario.task.tolerance_cents, shares)


def total_cents(shares: tuple[Share, ...]) -> float:
    """Return ``|m| + 1.96 s`` of shares."""
    counted = _counted(shares)
    return abs(_one_sided_cents(counted)) + P95 * _spread_cents(counted)


def _counted(shares: tuple[Share, ...]) -> list[Share]:
    """Return the shares that count: of motor step and deadband the wider one."""
    landing = sorted(_spread(share) for share in shares if share.name in (STEP, BAND))
    narrower = [name for _, name in landing[:-1]]
    return [share for share in shares if share.name not in narrower]


def _spread(share: Share) -> tuple[float, str]:
    return share.spread_cents, share.name


def _one_sided_cents(counted: list[Share]) -> float:
    return sum(share.one_sided_cents for share in counted)


def _spread_cents(counted: list[Share]) -> float:
    return math.hypot(*(share.spread_cents for share in counted))


def _total(change: Change) -> float:
    return change.total_cents


def _strategy(scenario: Scenario, name: str | None) -> Strategy:
    for strategy in scenario.strategies:
        if name in (None, strategy.name):
            return strategy
    raise KeyError(name)


def _band_cents(scenario: Scenario, strategy: Strategy, string: str) -> float:
    """Return the half-width of the band in which the machine finishes: its own, within the tolerance."""
    own = getattr(strategy.controllers[string].nominal(), "deadband_cents", math.inf)
    return min(float(own), scenario.task.tolerance_cents)


def _slop_cents(rig: Rig) -> float:
    """Return the backlash that nothing takes up: where the post's friction is stronger than the string's pull.

    A coupler's slop leaves no error: a head that locks stays where it was left, and in one that does not the string's
    pull takes the slop up.
    """
    chain, tension = rig.chain, tension_at_pitch_n(rig)
    if tension / chain.newton_per_deg >= chain.slack_below_deg:
        return 0.0
    return chain.backlash_deg * chain.ratio * chain.cents_per_knob_deg(tension)


def _nut_cents(rig: Rig, finishing: Finishing) -> float:
    """Return how far plucks after the end move the pitch at most, to the side to which the string was turned last.

    Each pluck since the last move has taken its share of what the nut holds away. The nut may hold anything up to its
    threshold, and the last turn may go either way.
    """
    most = max(abs(rig.chain.relaxing_cents(tension_at_pitch_n(rig), direction)) for direction in (1, -1))
    return most * (1.0 - rig.relaxation_share) ** finishing.plucks_after_move()
