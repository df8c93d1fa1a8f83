"""The plan of acceptance: how many tunings the real machine has to pass, and what to compare them with."""

import math
from typing import Any, Final

USUAL_SHARE: Final = 0.95
"""Share that must succeed where the rig requires none."""


def tunings_without_failure(share: float, confidence: float = 0.95) -> int:
    """Return how many tunings in a row without failure show, at a confidence, that at least ``share`` succeed.

    ``n = ln(1 - confidence) / ln(share)``: 59 for 95 % at 95 %. Source: success-run theorem, NIST/SEMATECH e-Handbook
    of Statistical Methods (binomial with no failures; from memory). Raises ``ValueError`` outside 0 to 1.
    """
    if not (0.0 < share < 1.0 and 0.0 < confidence < 1.0):
        raise ValueError(f"a share and a confidence lie between 0 and 1, found {share:g} and {confidence:g}")
    return math.ceil(math.log(1.0 - confidence) / math.log(share) - 1e-9)


def plan_of_acceptance(rig: str, strategy: str, share: float, summary: dict[str, Any], caution: str) -> str:
    """Return the plan as a page in Markdown; ``summary`` is that of a comparison with this strategy."""
    found = summary["strategies"][0]
    rows = [
        f"| {string} | {_both(one['plucks'])} | {_both(one['seconds'])} |" for string, one in found["by_string"].items()
    ]
    count, of = found["in_tune"]["count"], found["in_tune"]["of"]
    lines = [
        f"# Acceptance of {strategy} on {rig}",
        "",
        f"**{tunings_without_failure(share)} tunings in a row without failure** show at 95 % confidence that at least "
        f"{100 * share:g} % succeed. After a failure mend the cause and begin to count anew.",
        "",
        "1. Start every string from another pitch each time, as your players bring it; use every string alike.",
        "2. After the machine has finished, pluck three times and let another tuner judge. A failure is a string out "
        "of tolerance, a string that broke, a run that did not finish, or a hand that had to help.",
        "3. Write down every tuning: date, string, start, plucks, seconds, error in the end, what happened. A failure "
        "stays in the log, with its cause.",
        "",
        "What the simulation predicts, median / 95th percentile:",
        "",
        "| string | plucks | seconds |",
        "| --- | ---: | ---: |",
        *rows,
        "",
        f"In tune there: {count} of {of}. A real machine that needs half as many or twice as many is not the "
        "one that was simulated: measure again (`pegloop bench`) before you trust either.",
        "",
        f"Caution: {caution}",
        "",
    ]
    return "\n".join(lines)


def _both(found: dict[str, Any]) -> str:
    return " / ".join("beyond limit" if found[key] is None else f"{found[key]:.3g}" for key in ("median", "p95"))
