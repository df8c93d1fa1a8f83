"""The plan of acceptance: how many tunings the real machine has to pass, and what to compare them with."""

from typing import Any, Final

from sim.series.statistics import CONFIDENCE, at_most, clean_runs_for
from sim.views.numbers import percent, share

USUAL_SHARE: Final = 0.95
"""Share that must succeed where the rig requires none."""
BEYOND: Final = 0.05
"""Share of tunings that take more than the 95th percentile."""
LOG: Final = "date,string,start_cents,plucks,seconds,error_cents,what_happened,cause"


def plan_of_acceptance(wanted: float, summary: dict[str, Any]) -> dict[str, Any]:
    """Return the plan as plain data; ``summary`` is that of a comparison with one strategy of one rig.

    ``tunings_without_failure`` in a row show at 95 % confidence that at least the share ``wanted`` succeed:
    ``n = ln 0.05 / ln wanted``, 59 for 95 %, known as the success-run theorem. ``most_beyond_p95`` of them may take
    longer than the predicted 95th percentile, by the binomial distribution, also with 95 % confidence.

    Raises ``ValueError`` unless ``wanted`` lies between 0 and 1: no number of tunings shows that all succeed.
    """
    if not 0.0 < wanted < 1.0:
        raise ValueError(f"found {wanted:g}; allowed for a plan of acceptance: above 0 and below 1")
    found = summary["strategies"][0]
    tunings = clean_runs_for(1.0 - wanted)
    return {
        "rig": found["rig"],
        "strategy": found["name"],
        "wanted_share": wanted,
        "confidence": CONFIDENCE,
        "tunings_without_failure": tunings,
        "chance_to_pass": found["in_tune"]["share"] ** tunings,
        "most_beyond_p95": most_beyond(tunings),
        "machines": summary["specimens"],
        "seed": summary["seed"],
        "in_tune": found["in_tune"],
        "strings": {name: _predicted(one) for name, one in found["by_string"].items()},
        "all": _predicted(found),
    }


def most_beyond(tunings: int) -> int:
    """Return how many of so many tunings lie above a 95th percentile at most, with 95 % confidence."""
    return next(count for count in range(tunings + 1) if at_most(count, tunings, BEYOND) >= CONFIDENCE)


def page(plan: dict[str, Any], caution: str) -> str:
    """Return a plan as a page in Markdown."""
    tunings, wanted = plan["tunings_without_failure"], percent(plan["wanted_share"])
    rows = [f"| {name} | {_both(one['plucks'])} | {_both(one['seconds'])} |" for name, one in _lines(plan)]
    return "\n".join([
        f"# Acceptance of {plan['strategy']} on {plan['rig']}",
        "",
        f"**{tunings} tunings in a row without failure** show at 95 % confidence that at least {wanted} % succeed. "
        "After a failure mend the cause and begin to count anew.",
        "",
        "1. Start every string from another pitch each time, as your players bring it; use all strings alike.",
        "2. After the machine has finished, pluck three times and let another tuner judge. A failure is a string out "
        "of tolerance, a string that broke, a run that did not finish, or a hand that had to help.",
        "3. Write down every tuning in one line. A failure stays in the log, with its cause:",
        "",
        f"   `{LOG}`",
        "",
        f"What {plan['machines']} simulated machines took, median / 95th percentile:",
        "",
        "| string | plucks | seconds |",
        "| --- | ---: | ---: |",
        *rows,
        "",
        f"Up to {plan['most_beyond_p95']} of the {tunings} may take more than the 95th percentile. More, or a median "
        "that is twice as large, speak for another machine than the simulated one: measure again (`pegloop bench`).",
        "",
        f"In tune there: {share(plan['in_tune'])}. With that share alone the chance of {tunings} in a row is "
        f"{percent(plan['chance_to_pass'])} %.",
        "",
        "Intervals cover chance in this simulation, not errors of the model.",
        "",
        f"Caution: {caution} Stop the trial at the first string that creaks, slips or frays.",
        "",
    ])  # fmt: skip


def _lines(plan: dict[str, Any]) -> list[tuple[str, Any]]:
    return [*plan["strings"].items(), ("all", plan["all"])]


def _predicted(found: dict[str, Any]) -> dict[str, Any]:
    return {measure: found[measure] for measure in ("plucks", "seconds")}


def _both(found: dict[str, Any]) -> str:
    return " / ".join("beyond limit" if found[key] is None else f"{found[key]:.3g}" for key in ("median", "p95"))
